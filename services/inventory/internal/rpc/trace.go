package rpc

import (
	"context"
	"maps"
	"slices"

	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/drill"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
)

// Trace follows honey both ways.
func (s *Server) Trace(ctx context.Context, req *inventoryv1.TraceRequest) (*inventoryv1.TraceResponse, error) {
	began := s.app.Clock.Now()
	place, err := s.traceable(ctx, req.GetName())
	if err != nil {
		return nil, err
	}
	t, err := s.app.Trace(ctx, place)
	if err != nil {
		return nil, err
	}
	answer := s.traced(t, seesMembers(ctx))
	answer.ElapsedMilliseconds = s.app.Clock.Now().Sub(began).Milliseconds()
	return answer, nil
}

// seesMembers is for those who must call them; the warehouse and the laboratory find barrels without knowing whose.
func seesMembers(ctx context.Context) bool {
	a := access.From(ctx)
	return a.Has(accessv1.Role_ROLE_OFFICE) || a.Has(accessv1.Role_ROLE_AUDITOR)
}

func (s *Server) traced(t app.Traced, withMembers bool) *inventoryv1.TraceResponse {
	m := &inventoryv1.TraceResponse{Name: string(t.Place), Total: wire.MassToProto(t.Total, s.app.Unit), OmittedTransfers: int32(t.Omitted)} //nolint:gosec // memory ends first
	members := map[string]bool{}
	for _, part := range t.Sources {
		b := t.Barrels[part.Place]
		members[b.Member] = true
		source := &inventoryv1.TraceSource{
			StockItem: string(part.Place), Mass: wire.MassToProto(part.Mass, s.app.Unit), Ticket: "tickets/" + b.Ticket.String(),
			Claims: present.Claims(b.Claims),
		}
		if withMembers {
			source.Member = b.Member
		}
		m.Sources = append(m.Sources, source)
	}
	m.Members = int32(len(members)) //nolint:gosec // no more than barrels
	var accounted quantity.Mass
	with := map[lots.Place]quantity.Mass{}
	for _, end := range t.Ends {
		accounted += end.Mass
		if end.Place.Kind() == lots.Shipment {
			with[end.Place] = end.Mass
			continue
		}
		m.Elsewhere = append(m.Elsewhere, &inventoryv1.TraceWhere{Name: string(end.Place), Mass: wire.MassToProto(end.Mass, s.app.Unit)})
	}
	m.Customers = s.tracedCustomers(t, with)
	for _, one := range t.Transfers {
		m.Transfers = append(m.Transfers, present.Transfer(one, s.app.Unit))
	}
	for _, p := range t.Known {
		m.Places = append(m.Places, &inventoryv1.TracePlace{Name: string(p.Place), KnownAs: p.As, BestByDate: p.BestBy})
	}
	m.AccountedPercent = drill.Share(accounted, t.Total).String()
	return m
}

// tracedCustomers are those it was shipped to, whatever came back: with is what they have now.
func (s *Server) tracedCustomers(t app.Traced, with map[lots.Place]quantity.Mass) (out []*inventoryv1.TraceCustomer) {
	back := map[lots.Place]quantity.Mass{}
	for _, part := range t.Returned {
		back[part.Place] = part.Mass
	}
	for _, place := range slices.Sorted(maps.Keys(t.Shipments)) {
		c, sent := t.Contacts[place], t.Shipments[place]
		to := &inventoryv1.TraceCustomer{
			Customer: sent.Customer, Shipment: string(place), Mass: wire.MassToProto(with[place], s.app.Unit), Address: c.Address, RecallContact: c.Contact,
			Carrier: sent.Carrier.Name, CarrierAddress: sent.Carrier.Address, CarrierTelephone: sent.Carrier.Telephone, ShipTime: timestamppb.New(sent.Time), Returned: wire.MassToProto(back[place], s.app.Unit),
		}
		for _, r := range t.Received(place) {
			to.Received = append(to.Received, &inventoryv1.TraceReceived{Place: string(r.Place), Jars: r.Jars, Containers: r.Containers})
		}
		out = append(out, to)
	}
	return out
}

// GetMassBalance adds up all honey.
func (s *Server) GetMassBalance(ctx context.Context, _ *inventoryv1.GetMassBalanceRequest) (*inventoryv1.MassBalance, error) {
	b, err := s.app.Balance(ctx)
	if err != nil {
		return nil, err
	}
	m := &inventoryv1.MassBalance{
		Received: wire.MassToProto(b.Received, s.app.Unit), Barrels: wire.MassToProto(b.Barrels, s.app.Unit), Tanks: wire.MassToProto(b.Tanks, s.app.Unit),
		Lots: wire.MassToProto(b.Lots, s.app.Unit), Shipped: wire.MassToProto(b.Shipped, s.app.Unit), Unexplained: wire.MassToProto(b.Unexplained, s.app.Unit),
		Returned: wire.MassToProto(b.Returned, s.app.Unit),
	}
	difference := b.Received - b.Barrels - b.Tanks - b.Lots - b.Shipped - b.Returned
	for _, lost := range b.Losses {
		difference -= lost
	}
	m.Losses, m.AskedWriteOff = present.Losses(b.Losses, s.app.Unit), wire.MassToProto(b.Asked, s.app.Unit)
	m.Difference = wire.MassToProto(difference, s.app.Unit)
	return m, nil
}
