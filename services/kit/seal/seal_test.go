package seal_test

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/seal"
)

func keyFile(t *testing.T, digit string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "accounts.key")
	require.NoError(t, os.WriteFile(file, []byte(strings.Repeat(digit, 64)+"\n"), 0o600))
	return file
}

func TestSealedSecrets(t *testing.T) {
	t.Parallel()
	old, fresh := keyFile(t, "a"), keyFile(t, "b")
	r, err := seal.Load(old)
	require.NoError(t, err)
	id, sealed, err := r.Seal([]byte("00123456789"), "payeeAccounts/1")
	require.NoError(t, err)
	require.False(t, bytes.Contains(sealed, []byte("0012345")))
	_, again, err := r.Seal([]byte("00123456789"), "payeeAccounts/1")
	require.NoError(t, err)
	require.NotEqual(t, sealed, again, "equal numbers do not look equal")
	secret, err := r.Open(id, sealed, "payeeAccounts/1")
	require.NoError(t, err)
	require.Equal(t, "00123456789", string(secret))
	_, err = r.Open(id, sealed, "payeeAccounts/2")
	require.ErrorIs(t, err, seal.ErrTampered, "it belongs to one account")
	for i := range sealed {
		broken := bytes.Clone(sealed)
		broken[i] ^= 1
		_, err = r.Open(id, broken, "payeeAccounts/1")
		require.ErrorIs(t, err, seal.ErrTampered)
	}
	both, err := seal.Load(fresh, old)
	require.NoError(t, err)
	require.NotEqual(t, id, both.Current(), "a new key comes first")
	secret, err = both.Open(id, sealed, "payeeAccounts/1")
	require.NoError(t, err)
	require.Equal(t, "00123456789", string(secret))
	alone, err := seal.Load(fresh)
	require.NoError(t, err)
	_, err = alone.Open(id, sealed, "payeeAccounts/1")
	require.ErrorIs(t, err, seal.ErrUnknownKey)
}

func TestMarks(t *testing.T) {
	t.Parallel()
	one, err := seal.Load(keyFile(t, "a"))
	require.NoError(t, err)
	other, err := seal.Load(keyFile(t, "b"))
	require.NoError(t, err)
	mark := func(r *seal.Ring, text string) string {
		m, err := r.Mark(text)
		require.NoError(t, err)
		return m
	}
	first := mark(one, "00123456789")
	require.Equal(t, first, mark(one, "00123456789"))
	require.NotEqual(t, first, mark(one, "00123456780"))
	require.NotEqual(t, first, mark(other, "00123456789"))
}

func TestWithoutAKeyNothingIsSealed(t *testing.T) {
	t.Parallel()
	none, err := seal.Load()
	require.NoError(t, err)
	for _, r := range []*seal.Ring{none, nil} {
		_, _, err = r.Seal([]byte("1"), "x")
		require.ErrorIs(t, err, seal.ErrNoKey)
		_, err = r.Mark("1")
		require.ErrorIs(t, err, seal.ErrNoKey)
		_, err = r.Open("00000000", []byte("1"), "x")
		require.ErrorIs(t, err, seal.ErrUnknownKey)
	}
}

func TestTheFirstKeyIsMadeOnce(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), "accounts.key")
	names := make([]string, 8)
	var group sync.WaitGroup
	for i := range names {
		group.Go(func() {
			r, err := seal.Load(file)
			if err == nil {
				names[i] = r.Current()
			}
		})
	}
	group.Wait()
	require.NotEmpty(t, names[0])
	for _, n := range names {
		require.Equal(t, names[0], n)
	}
	info, err := os.Stat(file)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	_, err = seal.Load(file, filepath.Join(t.TempDir(), "old.key"))
	require.ErrorContains(t, err, "old.key", "an old key that is missing is not made up")
	require.NoError(t, os.WriteFile(file, []byte("abc"), 0o600))
	_, err = seal.Load(file)
	require.ErrorContains(t, err, "64 hexadecimal digits")
}
