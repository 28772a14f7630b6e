package present

import (
	"google.golang.org/protobuf/types/known/timestamppb"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/drill"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
)

// Drill shows a mock recall.
func Drill(d drill.Drill, unit quantity.Unit) *inventoryv1.RecallDrill {
	m := &inventoryv1.RecallDrill{
		Name: d.Name(), Subject: string(d.Subject), Total: wire.MassToProto(d.Total, unit), AccountedPercent: drill.Share(d.Accounted, d.Total).String(),
		Barrels: int32(d.Barrels), Members: int32(d.Members), Shipments: int32(d.Shipments), //nolint:gosec // no more than there are rows
		Recounted: d.Recounted, TraceMilliseconds: d.Milliseconds, Starter: d.Starter, StartTime: timestamppb.New(d.StartTime),
	}
	if f := d.Finish; f != nil {
		m.Finisher, m.FinishTime, m.ElapsedSeconds = f.Finisher, timestamppb.New(f.Time), int64(f.Time.Sub(d.StartTime).Seconds())
		m.Found, m.FoundPercent, m.Contacts, m.Note = wire.MassToProto(f.Found, unit), drill.Share(f.Found, d.Total).String(), f.Contacts, f.Note
	}
	return m
}

// Count shows a location that was counted.
func Count(c stock.Count) *inventoryv1.CycleCount {
	m := &inventoryv1.CycleCount{
		Name: c.Name(), Location: c.Location, Matched: c.Matched, Missing: c.Missing, Unknown: c.Unknown, Counter: c.Counter, CountTime: timestamppb.New(c.Time),
	}
	for _, one := range c.Misplaced {
		m.Misplaced = append(m.Misplaced, &inventoryv1.MisplacedDrum{DrumTag: one.DrumTag, StockItem: stock.Name(one.Barrel), BookedLocation: one.Booked})
	}
	return m
}
