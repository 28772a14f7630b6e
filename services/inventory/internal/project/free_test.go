package project_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/types/known/timestamppb"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/inventory/internal/fixture"
	"barrelhead.example/services/inventory/internal/store"
	"barrelhead.example/services/kit/pgtest"
)

func TestLateDeclarationFreesWhatWasHeldForWantOfIt(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, schema)
	d := fixture.Delivery{
		Number: 1, Member: "members/M-0001", CropYear: 2026, Date: "2026-09-14",
		Barrels: []fixture.Barrel{{Number: 1, Net: "640.0", Variety: "clover"}, {Number: 2, Net: "641.0", Variety: "clover"}},
	}
	barrel := fixture.ID("barrel", 1)
	review := &intakev1.ScaleReview{
		Name: "scaleReviews/" + fixture.ID("review", 1).String(), Scale: "scales/1", ReweighBarrels: []string{"barrels/" + barrel.String()},
		Barrels: []string{"barrels/" + barrel.String()}, FailedCheck: &intakev1.ScaleCheck{CheckTime: timestamppb.New(fixture.Start)},
	}
	fixture.Apply(t, db, d.Events()...)
	fixture.Apply(t, db, &intakev1.ScaleReviewOpened{Review: review})
	codes := func() (all []stock.Code) {
		t.Helper()
		item, err := store.Store{}.Item(t.Context(), db.Pool(), barrel)
		require.NoError(t, err)
		for _, h := range item.Holds {
			all = append(all, h.Code)
		}
		return all
	}
	require.ElementsMatch(t, []stock.Code{stock.Documents, stock.Scale}, codes())

	declared := &intakev1.HarvestDeclared{Note: "folder 2026, sheet 41", Ticket: &intakev1.Ticket{Barrels: []*intakev1.Barrel{
		{Name: "barrels/" + barrel.String()}, {Name: "barrels/" + fixture.ID("barrel", 2).String()},
	}}}
	facts := fixture.Apply(t, db, declared)
	require.Len(t, facts, 2)
	require.Equal(t, "declared: folder 2026, sheet 41", facts[0].Payload.(*inventoryv1.HoldReleased).GetHold().GetReleaseReason())
	require.Equal(t, []stock.Code{stock.Scale}, codes())
	require.Empty(t, fixture.Apply(t, db, declared), "the same declaration again frees nothing")

	require.Len(t, fixture.Apply(t, db, &intakev1.ScaleReviewResolved{Review: review}), 1)
	require.Empty(t, codes())
}

// A review may be decided while the ticket is still open: the barrel is not known here, its hold is.
func TestDecidedReviewFreesABarrelNotYetKnown(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, schema)
	name := "barrels/" + fixture.ID("barrel", 7).String()
	review := &intakev1.ScaleReview{
		Name: "scaleReviews/" + fixture.ID("review", 1).String(), Scale: "scales/1", ReweighBarrels: []string{name}, Barrels: []string{name},
		FailedCheck: &intakev1.ScaleCheck{CheckTime: timestamppb.New(fixture.Start)},
	}
	require.Len(t, fixture.Apply(t, db, &intakev1.ScaleReviewOpened{Review: review}), 1)
	require.Len(t, fixture.Apply(t, db, &intakev1.ScaleReviewResolved{Review: review}), 1)
	open, err := store.Store{}.OpenHolds(t.Context(), db.Pool(), fixture.ID("barrel", 7))
	require.NoError(t, err)
	require.Empty(t, open)
}
