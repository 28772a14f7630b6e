package session

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"
)

// A login that does not exist must cost as much as one that does, or its absence could be timed. What takes the time is
// counted instead of clocked: a busy machine says nothing about this one.
func TestHasher_AnUnknownLoginCostsAsMuch(t *testing.T) {
	t.Parallel()
	cost := Cost{MemoryKiB: 64, Passes: 2}
	h := newHasher(cost)
	var spent []Cost
	h.derive = func(c Cost, password string, salt []byte) []byte {
		spent = append(spent, c)
		require.Len(t, salt, saltBytes)
		return derive(c, password, salt)
	}
	hash, err := h.make(context.Background(), "three spoons of clover")
	require.NoError(t, err)
	for _, stored := range []string{hash, ""} {
		right, err := h.matches(context.Background(), stored, "a wrong password")
		require.NoError(t, err)
		require.False(t, right)
	}
	require.Equal(t, []Cost{cost, cost, cost}, spent)
}

func TestHasher_TheStandInMatchesNothing(t *testing.T) {
	t.Parallel()
	h := newHasher(Cost{MemoryKiB: 64, Passes: 1})
	// Even a password whose key were all zeros must not open a login that does not exist.
	h.derive = func(Cost, string, []byte) []byte { return make([]byte, keyBytes) }
	right, err := h.matches(context.Background(), "", "anything")
	require.NoError(t, err)
	require.False(t, right)
}

func TestHasher_RefusesAHashItCannotRead(t *testing.T) {
	t.Parallel()
	h := newHasher(Cost{MemoryKiB: 64, Passes: 1})
	good, err := h.make(context.Background(), "three spoons of clover")
	require.NoError(t, err)
	for _, hash := range []string{"x", good[:len(good)-4], "$argon2id$v=18" + good[len("$argon2id$v=19"):], "$argon2i$v=19$m=64,t=1,p=1$AAAA$AAAA", "$argon2id$v=19$m=64,t=0,p=1$AAAA$AAAA"} {
		_, err := h.matches(context.Background(), hash, "three spoons of clover")
		require.ErrorIs(t, err, errHashFormat, hash)
	}
	right, err := h.matches(context.Background(), good, "three spoons of clover")
	require.NoError(t, err)
	require.True(t, right)
	require.False(t, h.outdated(good))
	require.True(t, newHasher(DefaultCost).outdated(good))
}

func TestHasher_WaitsForASlotOnlyAsLongAsTheCaller(t *testing.T) {
	t.Parallel()
	h := newHasher(Cost{MemoryKiB: 64, Passes: 1})
	for range mostChecks {
		_, err := h.slot(context.Background())
		require.NoError(t, err)
	}
	gone, leave := context.WithCancel(context.Background())
	leave()
	_, err := h.matches(gone, "", "anything")
	require.ErrorIs(t, err, context.Canceled)
}
