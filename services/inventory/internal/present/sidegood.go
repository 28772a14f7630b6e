package present

import (
	"google.golang.org/protobuf/types/known/timestamppb"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/inventory/internal/domain/sidegood"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
)

// Prefixes of the enums of side goods.
const (
	SideGoodPrefix = "SIDE_GOOD_"
	SideMovePrefix = "SIDE_MOVE_"
)

func sideGood(g sidegood.Good) inventoryv1.SideGood {
	return inventoryv1.SideGood(inventoryv1.SideGood_value[SideGoodPrefix+string(g)])
}

// sideQuantity is a number of pieces, or a weight.
func sideQuantity(g sidegood.Good, q int64, unit quantity.Unit) (int64, *typev1.Mass) {
	if g.Weighed() {
		return 0, wire.MassToProto(quantity.Mass(q), unit)
	}
	return q, nil
}

// SideEntry shows an entry; what left is shown without its sign, which the move says.
func SideEntry(e sidegood.Entry, unit quantity.Unit) *inventoryv1.SideEntry {
	m := &inventoryv1.SideEntry{
		Name: e.Name(), Good: sideGood(e.Good), Move: inventoryv1.SideMove(inventoryv1.SideMove_value[SideMovePrefix+string(e.Move)]), CropYear: e.CropYear,
		Member: e.Member, Customer: e.Customer, Note: e.Note, Recorder: e.Recorder, RecordTime: timestamppb.New(e.Time),
	}
	m.Pieces, m.Mass = sideQuantity(e.Good, max(e.Quantity, -e.Quantity), unit)
	return m
}

// SideStock shows what there is.
func SideStock(s sidegood.Stock, unit quantity.Unit) *inventoryv1.SideStock {
	m := &inventoryv1.SideStock{Good: sideGood(s.Good), CropYear: s.CropYear}
	m.Pieces, m.Mass = sideQuantity(s.Good, s.Quantity, unit)
	return m
}
