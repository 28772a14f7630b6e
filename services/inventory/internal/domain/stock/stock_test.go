package stock_test

import (
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/quantity"
)

var noon = time.Date(2026, 9, 14, 12, 0, 0, 0, time.UTC)

func TestAHeldBarrelStaysAndNamesTheOldestHold(t *testing.T) {
	t.Parallel()
	item := stock.Item{Barrel: uuid.New(), State: stock.OnHand, Location: stock.Dock, DrumTag: "FC-00442"}
	first, err := item.Hold(uuid.New(), stock.Residue, "screen pending", "users/lead1", noon)
	require.NoError(t, err)
	second, err := item.Hold(uuid.New(), stock.Customer, "promised", "users/office1", noon.Add(time.Hour))
	require.NoError(t, err)
	item.Holds = []stock.Hold{first, second}
	_, err = item.Move(uuid.New(), "B1", "users/wh1", noon)
	var held *stock.HeldError
	require.ErrorAs(t, err, &held)
	require.Equal(t, first.ID, held.Hold.ID)
	require.Equal(t, "drum FC-00442 is on hold (residue: screen pending) since 2026-09-14 12:00 UTC and cannot be moved until someone other than users/lead1 releases it", err.Error())
}

func TestMovesAreNumberedFromWhereTheBarrelStands(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		item := stock.Item{Barrel: uuid.New(), State: stock.OnHand, Location: stock.Dock}
		for n, to := range rapid.SliceOf(rapid.StringMatching(`[A-Z0-9-]{1,40}`)).Draw(t, "places") {
			m, err := item.Move(uuid.New(), to, "users/wh1", noon)
			if err != nil || m.Number != int64(n+1) || m.From != item.Location || m.To != to {
				t.Fatalf("move %d to %s: %+v, %v", n, to, m, err)
			}
			item.Location, item.Moves = m.To, m.Number
		}
	})
}

func TestReleaseNeedsAnotherPersonOnce(t *testing.T) {
	t.Parallel()
	h := stock.Hold{ID: uuid.New(), Placer: "users/lead1", Time: noon}
	_, err := h.End("users/lead1", "fine", noon)
	var same *stock.SamePersonError
	require.ErrorAs(t, err, &same)
	require.Equal(t, map[string]string{"first": "users/lead1"}, same.Metadata())
	ended, err := h.End("users/office1", "fine", noon)
	require.NoError(t, err)
	require.Nil(t, h.Release, "the hold as read is left alone")
	_, err = ended.End("users/office2", "fine", noon)
	var released *stock.ReleasedError
	require.ErrorAs(t, err, &released)
	_, err = stock.Undeclared(uuid.New(), uuid.New(), "FC-2026-000001", noon).End("users/office1", "handed in", noon)
	require.NoError(t, err, "anybody may release what the house held")
}

func TestNothingHappensToAWithdrawnBarrel(t *testing.T) {
	t.Parallel()
	item := stock.Item{Barrel: uuid.New(), State: stock.Withdrawn}
	_, moveErr := item.Move(uuid.New(), "B1", "users/wh1", noon)
	_, holdErr := item.Hold(uuid.New(), stock.Quality, "sour", "users/wh1", noon)
	for _, err := range []error{moveErr, holdErr} {
		var state *stock.StateError
		require.ErrorAs(t, err, &state)
		require.Equal(t, "WITHDRAWN", state.Metadata()["state"])
	}
}

func TestETagChangesWithEverythingAReaderSees(t *testing.T) {
	t.Parallel()
	water := quantity.Percent(1740)
	base := stock.Item{State: stock.OnHand, Location: stock.Dock, Net: 640_000}
	seen := map[string]bool{base.ETag(): true}
	for _, change := range []func(*stock.Item){
		func(i *stock.Item) { i.Location = "B1" },
		func(i *stock.Item) { i.State = stock.Withdrawn },
		func(i *stock.Item) { i.Net++ },
		func(i *stock.Item) { i.Grading.Moisture = &water },
		func(i *stock.Item) { i.Holds = []stock.Hold{{Reason: "sour"}} },
	} {
		changed := base
		change(&changed)
		require.False(t, seen[changed.ETag()])
		seen[changed.ETag()] = true
		require.Error(t, changed.Match(base.ETag()))
		require.NoError(t, changed.Match(""))
		require.NoError(t, changed.Match(changed.ETag()))
	}
}

func TestTheSameMissingDeclarationIsTheSameHold(t *testing.T) {
	t.Parallel()
	ticket, barrel := uuid.New(), uuid.New()
	first := stock.Undeclared(ticket, barrel, "FC-2026-000001", noon)
	again := stock.Undeclared(ticket, barrel, "FC-2026-000001", noon)
	require.Equal(t, first, again)
	require.NotEqual(t, stock.Undeclared(ticket, barrel, "n", noon).ID, stock.Undeclared(barrel, ticket, "n", noon).ID)
}

func TestAStateThatForbidsIsToldInPlainWords(t *testing.T) {
	t.Parallel()
	for state, told := range map[string]string{
		"EMPTIED": "stock/x is emptied and cannot be shipped", "NOT_APPROVED": "stock/x is not approved and cannot be shipped",
		"JARS": "stock/x came back in jars and cannot be shipped", "SAME_TANK": "stock/x is in the same tank and cannot be shipped",
	} {
		err := &stock.StateError{Resource: "stock/x", State: state, Action: "shipped"}
		require.EqualError(t, err, told)
		err.Called = "drum FC-00003"
		require.EqualError(t, err, strings.Replace(told, "stock/x", "drum FC-00003", 1), "a person reads what people call it")
		require.Equal(t, "stock/x", err.Metadata()["resource"], "and programs its name")
		require.Equal(t, state, err.Metadata()["state"], "programs keep their name for it")
	}
}
