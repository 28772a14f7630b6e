package present

import (
	"time"

	"github.com/google/uuid"
	"google.golang.org/protobuf/types/known/timestamppb"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/blend"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
)

// Transfer shows a transfer.
func Transfer(t lots.Transfer, unit quantity.Unit) *inventoryv1.Transfer {
	return &inventoryv1.Transfer{
		Name: "transfers/" + t.ID.String(), Number: t.Number, From: string(t.From), To: string(t.To),
		Mass: wire.MassToProto(t.Mass, unit), Actor: t.Actor, Time: timestamppb.New(t.Time), Reason: t.Reason, OfPlace: string(t.Of),
	}
}

// Millimetres is a colour on the Pfund scale.
func Millimetres(p *blend.Pfund) string {
	if p == nil {
		return ""
	}
	return quantity.FormatFixed(int64(*p), 2, 1)
}

// Percent is a percentage, empty for none.
func Percent(p *quantity.Percent) string {
	if p == nil {
		return ""
	}
	return p.String()
}

// Rules shows what a blend must be.
func Rules(r lots.Rules) *inventoryv1.ClaimRules {
	m := &inventoryv1.ClaimRules{
		Variety: r.Variety, MaxMoisturePercent: Percent(r.MaxMoisture), MinPfundMm: Millimetres(r.MinPfund), MaxPfundMm: Millimetres(r.MaxPfund),
	}
	if r.MinShare > 0 {
		m.MinSharePercent = r.MinShare.String()
	}
	return m
}

// Limit is a limit on the wire.
func Limit(l blend.Limit) inventoryv1.BlendLimit {
	kind, _ := l.Split()
	return inventoryv1.BlendLimit(inventoryv1.BlendLimit_value["BLEND_LIMIT_"+string(kind)])
}

// Figures shows what a blend is.
func Figures(f lots.Figures, rules lots.Rules, unit quantity.Unit) *inventoryv1.BlendFigures {
	m := &inventoryv1.BlendFigures{
		Weight: wire.MassToProto(f.Weight, unit), MoisturePercent: Percent(f.Moisture), PfundMm: Millimetres(f.Pfund),
		Members: int32(f.Members), Barrels: int32(f.Barrels), //nolint:gosec // no more than there are barrels
	}
	if rules.Variety != "" {
		m.SharePercent = f.Share.String()
	}
	for _, b := range f.Breaches {
		m.Breaches = append(m.Breaches, Limit(b.Limit))
	}
	return m
}

func lotState(closed bool) inventoryv1.LotState {
	if closed {
		return inventoryv1.LotState_LOT_STATE_CLOSED
	}
	return inventoryv1.LotState_LOT_STATE_OPEN
}

// Charge shows a charge with its figures.
func Charge(f lots.Filling, figures lots.Figures, unit quantity.Unit) *inventoryv1.Charge {
	m := ChargeLine(f, unit)
	m.Figures = Figures(figures, f.Rules, unit)
	m.Holds = holds(f.Holds)
	for _, p := range f.OpenPicks() {
		m.OpenPicks = append(m.OpenPicks, stock.Name(p))
	}
	return m
}

func holds(open []stock.Hold) (out []*inventoryv1.Hold) {
	for _, h := range open {
		out = append(out, Hold(h))
	}
	return out
}

// ChargeLine shows a charge as in a list.
func ChargeLine(f lots.Filling, unit quantity.Unit) *inventoryv1.Charge {
	m := &inventoryv1.Charge{
		Name: string(f.Place()), Code: f.Code, Tank: "tanks/" + f.Tank, State: lotState(f.Closed), Rules: Rules(f.Rules),
		Content: wire.MassToProto(f.Content, unit), PreviousUnexplained: wire.MassToProto(f.Left, unit),
		AskedWriteOff: wire.MassToProto(f.Asked, unit), PreviousAskedWriteOff: wire.MassToProto(f.LeftAsked, unit),
		Opener: f.Opener, OpenTime: timestamppb.New(f.Time),
	}
	if f.Previous != uuid.Nil {
		m.Previous = string(lots.Of(lots.Charge, f.Previous))
	}
	for _, s := range f.Substitutions {
		m.Substitutions = append(m.Substitutions, &inventoryv1.Substitution{
			PlannedItem: stock.Name(s.Planned), UsedItem: stock.Name(s.Used), Reason: s.Reason, Actor: s.Actor, Time: timestamppb.New(s.Time),
		})
	}
	return m
}

// Run shows a pack lot.
func Run(r lots.Run, unit quantity.Unit) *inventoryv1.PackLot {
	m := &inventoryv1.PackLot{
		Name: string(r.Place()), Code: r.Code, Label: "labels/" + r.Label, Line: r.Line, State: lotState(r.Closed),
		Content: wire.MassToProto(r.Content, unit), JarsOnHand: r.OnHand, Jars: r.Jars, Starter: r.Starter, StartTime: timestamppb.New(r.Time), Holds: holds(r.Holds),
		BestByDate: r.BestBy, AskedWriteOff: wire.MassToProto(r.Asked, unit),
	}
	if r.Closed {
		m.MeanNet = wire.MassToProto(r.MeanNet, unit)
	}
	for _, c := range r.Charges {
		m.Charges = append(m.Charges, string(lots.Of(lots.Charge, c)))
	}
	return m
}

// ShipmentLine is some jars of one lot.
type ShipmentLine struct {
	Lot  uuid.UUID
	Jars int64
	Mass quantity.Mass
}

// BulkLine shows honey sold as it is.
func BulkLine(place lots.Place, mass quantity.Mass, containers string, unit quantity.Unit) *inventoryv1.BulkLine {
	return &inventoryv1.BulkLine{Place: string(place), Mass: wire.MassToProto(mass, unit), Containers: containers}
}

// Shipment shows a shipment.
func Shipment(id uuid.UUID, customer, carrier, shipper string, at time.Time, lines []ShipmentLine, unit quantity.Unit) *inventoryv1.Shipment {
	m := &inventoryv1.Shipment{
		Name: string(lots.Of(lots.Shipment, id)), Customer: customer, Carrier: carrier, Shipper: shipper, ShipTime: timestamppb.New(at),
	}
	for _, l := range lines {
		m.Lines = append(m.Lines, &inventoryv1.ShipmentLine{
			PackLot: string(lots.Of(lots.Pack, l.Lot)), Jars: l.Jars, Mass: wire.MassToProto(l.Mass, unit),
		})
	}
	return m
}
