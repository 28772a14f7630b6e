package project_test

import (
	"context"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/types/known/timestamppb"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/inventory/internal/fixture"
	"barrelhead.example/services/inventory/internal/store"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pgtest"
)

// composite20 is a delivery of twenty barrels, and the fact that a composite of their samples holds a residue.
func composite20(found int) (fixture.Delivery, *gradingv1.ResidueSuspected) {
	d := fixture.Delivery{Number: 1, Member: "members/M-0001", CropYear: 2026, Date: "2026-09-14", Declared: true}
	e := &gradingv1.ResidueSuspected{
		Composite: "composites/DRH3C9WY", Analyte: "NITROFURANS", Explanation: "0.3 µg/kg nitrofurans: detected, where none may be.",
		Result: &gradingv1.OutsideResult{Name: "outsideResults/" + fixture.ID("result", found).String(), SecondTime: timestamppb.New(fixture.Start)},
	}
	for n := 1; n <= 20; n++ {
		b := fixture.Barrel{Number: n, Net: "640.0", Variety: "clover"}
		d.Barrels = append(d.Barrels, b)
		e.Samples = append(e.Samples, b.Sample())
	}
	return d, e
}

func sampleCleared(sample string, suspected ...*gradingv1.ResidueSuspected) *gradingv1.SampleCleared {
	e := &gradingv1.SampleCleared{Sample: sample, Explanation: "<0.3 µg/kg nitrofurans: none detected."}
	for _, s := range suspected {
		e.Suspicions = append(e.Suspicions, s.GetResult().GetName())
	}
	return e
}

// Bad day: a composite of twenty shows a residue. Twenty barrels are held, nineteen released.
func TestACompositeWithAResidueHoldsEveryBarrelUntilItIsCleared(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, schema)
	d, suspected := composite20(1)
	fixture.Apply(t, db, d.Events()...)
	placed := fixture.Apply(t, db, suspected)
	require.Len(t, placed, 20)
	require.Empty(t, fixture.Apply(t, db, suspected), "the same fact again holds nothing")
	held := func() (n int) {
		t.Helper()
		for _, b := range d.Barrels {
			item, err := store.Store{}.Item(t.Context(), db.Pool(), fixture.ID("barrel", b.Number))
			require.NoError(t, err)
			for _, h := range item.Holds {
				require.Equal(t, stock.Residue, h.Code)
				require.Equal(t, stock.Laboratory, h.Placer)
				require.NotContains(t, h.Reason, b.Sample(), "the blind code stays here")
				n++
			}
		}
		return n
	}
	require.Equal(t, 20, held())
	for _, b := range d.Barrels[1:] {
		freed := fixture.Apply(t, db, sampleCleared(b.Sample(), suspected))
		require.Len(t, freed, 1)
		require.Equal(t, "<0.3 µg/kg nitrofurans: none detected.", freed[0].Payload.(*inventoryv1.HoldReleased).GetHold().GetReleaseReason())
	}
	require.Equal(t, 1, held(), "the last one waits for its disposal")
	// A later suspicion holds anew, and clearing the earlier one does not free it.
	_, again := composite20(2)
	require.Len(t, fixture.Apply(t, db, again), 20)
	require.Empty(t, fixture.Apply(t, db, sampleCleared(d.Barrels[5].Sample(), suspected)))
	require.Equal(t, 21, held())
	require.Len(t, fixture.Apply(t, db, sampleCleared(d.Barrels[5].Sample(), suspected, again)), 1)
}

// The laboratory may be ahead of the dock's feed: the fact waits, and holds nothing by halves.
func TestASuspicionWaitsForItsBarrels(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, schema)
	d, suspected := composite20(1)
	fixture.Apply(t, db, d.Drawn()[:19]...)
	p := fixture.Project(db)
	apply := func(ctx context.Context) (facts []feed.Fact, err error) {
		err = db.InTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
			facts, err = p.Grading(ctx, tx, feed.Event{Payload: suspected})
			return err
		})
		return facts, err
	}
	_, err := apply(t.Context())
	require.ErrorIs(t, err, feed.ErrNotYet)
	fixture.Apply(t, db, d.Drawn()[19:]...)
	facts, err := apply(t.Context())
	require.NoError(t, err)
	require.Len(t, facts, 20)
}
