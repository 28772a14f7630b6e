package present

import (
	"maps"
	"slices"

	"github.com/google/uuid"
	"google.golang.org/protobuf/types/known/timestamppb"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/inventory/internal/domain/line"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
)

// Clearance shows a line that was looked over.
func Clearance(c line.Clearance) *inventoryv1.LineClearance {
	return &inventoryv1.LineClearance{
		Name: c.Name(), Line: c.Line, AfterLotCode: c.After, Cleaning: c.Cleaning, Clearer: c.Clearer, ClearTime: timestamppb.New(c.Time),
	}
}

// LineCheck shows jars weighed during a run.
func LineCheck(c line.Check) *inventoryv1.LineCheck {
	m := &inventoryv1.LineCheck{
		Name: line.CheckName(c.ID), PackLot: string(lots.Of(lots.Pack, c.Run)), Unit: inventoryv1.NetUnit(inventoryv1.NetUnit_value[NetUnitPrefix+string(c.Unit)]),
		Declared: c.Declared.String(), Average: c.Average.String(), Lowest: c.Lowest.String(), MaxAllowableVariation: c.Variation.String(),
		Stopped: c.Stopped, Sentence: c.Sentence, Checker: c.Checker, CheckTime: timestamppb.New(c.Time),
	}
	for _, w := range c.Weights {
		m.NetWeights = append(m.NetWeights, w.String())
	}
	return m
}

// Pallet shows a pallet.
func Pallet(p lots.Pallet) *inventoryv1.Pallet {
	m := &inventoryv1.Pallet{
		Name: p.Name(), Sscc: p.SSCC, State: inventoryv1.PalletState(inventoryv1.PalletState_value["PALLET_STATE_"+p.State()]), Customer: p.Customer,
		Builder: p.Builder, BuildTime: timestamppb.New(p.Time), Breaker: p.Breaker, BreakReason: p.Why, Number: p.Number,
	}
	if p.Shipment != uuid.Nil {
		m.Shipment = string(lots.Of(lots.Shipment, p.Shipment))
	}
	for _, l := range p.Lines {
		m.Lines = append(m.Lines, &inventoryv1.PalletLine{
			PackLot: string(lots.Of(lots.Pack, l.Lot)), Jars: l.Jars, LotCode: l.Code, Gtin: l.GTIN, BestByDate: l.BestBy,
		})
	}
	return m
}

// Losses shows what was lost, by how.
func Losses(losses map[string]quantity.Mass, unit quantity.Unit) (out []*inventoryv1.LossTotal) {
	for _, code := range slices.Sorted(maps.Keys(losses)) {
		out = append(out, &inventoryv1.LossTotal{Code: inventoryv1.LossCode(inventoryv1.LossCode_value[LossPrefix+code]), Mass: wire.MassToProto(losses[code], unit)})
	}
	return out
}

// LossPrefix stands before a loss in the enum.
const LossPrefix = "LOSS_CODE_"

// Balance shows a mass balance.
func Balance(b lots.Balance, unit quantity.Unit) *inventoryv1.Balance {
	mass := func(m quantity.Mass) *typev1.Mass { return wire.MassToProto(m, unit) }
	m := &inventoryv1.Balance{
		Name: b.Name, Title: b.Title, Opening: mass(b.Opening), Received: mass(b.Received), PassedOn: mass(b.PassedOn), Packed: mass(b.Packed),
		Shipped: mass(b.Shipped), Losses: Losses(b.Losses, unit), Closing: mass(b.Closing), OpenDifference: mass(b.Open), Unexplained: mass(b.Unexplained()),
		AskedWriteOff:      mass(b.Asked),
		Returned:           mass(b.Returned + b.SentBack),
		UnexplainedPercent: b.Share().String(), LimitPercent: b.Limit.String(), OverLimit: b.Over(),
	}
	if yield, known := b.Yield(); known {
		m.YieldPercent = yield.String()
	}
	return m
}
