package rpc_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/rpctest"
)

// label enters one with its GTIN and how many months honey under it keeps, and has it approved.
func (f *floor) label(id string, months int32) error {
	one := face()
	one.Gtin = "614141000012"
	_, err := f.office.CreateLabel(f.t.Context(), &inventoryv1.CreateLabelRequest{RequestId: request(), LabelId: id, Title: "Clover 1 lb", Face: one, ShelfLifeMonths: months})
	if err == nil {
		_, err = f.as("lead1", labLead).ApproveLabel(f.t.Context(), &inventoryv1.ApproveLabelRequest{RequestId: request(), Name: "labels/" + id, Evidence: "proof sheet"})
	}
	return err
}

// A lot keeps the best-by date of the label it was started under, counted from the day of the house.
func TestALotKeepsTheBestByDateOfItsLabel(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	rpctest.Faults(t, f.label("BAD", 61), "shelf_life_months")
	rpctest.Faults(t, f.label("BAD", -1), "shelf_life_months")
	require.NoError(t, f.label("CLOVER-30", 30))
	labels, err := f.office.ListLabels(t.Context(), &inventoryv1.ListLabelsRequest{})
	require.NoError(t, err)
	require.Equal(t, int32(30), labels.GetLabels()[1].GetShelfLifeMonths(), "after CLOVER")
	require.Zero(t, labels.GetLabels()[0].GetShelfLifeMonths())

	// Two in the morning of 1 March in London is still 28 February where the house stands.
	f.clock.Advance(time.Date(2027, 3, 1, 2, 0, 0, 0, time.UTC).Sub(f.clock.Now()))
	c := f.charge("T1", "0")
	f.fill(c.GetName(), 1)
	lot := f.start(c.GetName(), "CLOVER-30")
	require.Equal(t, "2029-08-28", lot.GetBestByDate())
	_, err = f.draw(lot.GetName(), c.GetName(), "640.0")
	require.NoError(t, err)
	lot, err = f.line.ClosePackLot(t.Context(), &inventoryv1.ClosePackLotRequest{RequestId: request(), Name: lot.GetName(), Jars: 640, MeanNet: lb("1.0")})
	require.NoError(t, err)
	require.Equal(t, "2029-08-28", lot.GetBestByDate())

	built, err := f.packing("line1", line).BuildPallet(t.Context(), &inventoryv1.BuildPalletRequest{RequestId: request(), Lines: []*inventoryv1.PalletLine{{PackLot: lot.GetName(), Jars: 480}}})
	require.NoError(t, err)
	read, err := f.packing("wh1", warehouse).GetPallet(t.Context(), &inventoryv1.GetPalletRequest{Name: built.GetName()})
	require.NoError(t, err)
	for _, p := range []*inventoryv1.Pallet{built, read} {
		require.Equal(t, []string{lot.GetCode(), "614141000012", "2029-08-28"}, []string{p.GetLines()[0].GetLotCode(), p.GetLines()[0].GetGtin(), p.GetLines()[0].GetBestByDate()})
	}

	c = f.charge("T2", "0")
	f.fill(c.GetName(), 3)
	require.Empty(t, f.start(c.GetName(), "CLOVER").GetBestByDate(), "its label says nothing")
}
