package rpc

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/sale"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/wire"
)

// run is do for changes that answer with a lot.
func (s *Server) run(ctx context.Context, req idem.Request, fn func(ctx context.Context, tx pgx.Tx) (lots.Run, []feed.Fact, error)) (*inventoryv1.PackLot, error) {
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.PackLot, []feed.Fact, error) {
		lot, facts, err := fn(ctx, tx)
		return present.Run(lot, s.app.Unit), facts, err
	})
}

// StartPackLot begins a run of jars.
func (s *Server) StartPackLot(ctx context.Context, req *inventoryv1.StartPackLotRequest) (*inventoryv1.PackLot, error) {
	r := s.reader()
	c := app.StartRun{
		Charge: r.id("charge", "charges", req.GetCharge()), Label: r.word("label", "labels", req.GetLabel()), Line: req.GetLine(),
		Actor: access.From(ctx).Login,
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return s.run(ctx, req, func(ctx context.Context, tx pgx.Tx) (lots.Run, []feed.Fact, error) { return s.app.StartRun(ctx, tx, c) })
}

// DrawPackLot takes honey from a tank into a run.
func (s *Server) DrawPackLot(ctx context.Context, req *inventoryv1.DrawPackLotRequest) (*inventoryv1.PackLot, error) {
	r := s.reader()
	c := app.DrawRun{
		Run: r.id("name", "packLots", req.GetName()), Charge: r.id("charge", "charges", req.GetCharge()), Mass: r.mass("mass", req.GetMass(), 1),
		Confirmed: req.GetConfirmFurtherCharge(), Reason: req.GetReason(), Actor: access.From(ctx).Login,
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return s.run(ctx, req, func(ctx context.Context, tx pgx.Tx) (lots.Run, []feed.Fact, error) { return s.app.DrawRun(ctx, tx, c) })
}

// ReturnRework pours honey of an open lot back into a tank.
func (s *Server) ReturnRework(ctx context.Context, req *inventoryv1.ReturnReworkRequest) (*inventoryv1.PackLot, error) {
	r := s.reader()
	c := app.ReturnRework{
		Run: r.id("name", "packLots", req.GetName()), Charge: r.id("charge", "charges", req.GetCharge()), Mass: r.mass("mass", req.GetMass(), 1),
		Actor: access.From(ctx).Login,
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return s.run(ctx, req, func(ctx context.Context, tx pgx.Tx) (lots.Run, []feed.Fact, error) {
		return s.app.ReturnRework(ctx, tx, c)
	})
}

// ClosePackLot ends a run.
func (s *Server) ClosePackLot(ctx context.Context, req *inventoryv1.ClosePackLotRequest) (*inventoryv1.PackLot, error) {
	r := s.reader()
	c := app.CloseRun{
		Run: r.id("name", "packLots", req.GetName()), Jars: req.GetJars(), MeanNet: r.mass("mean_net", req.GetMeanNet(), 1), Actor: access.From(ctx).Login,
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return s.run(ctx, req, func(ctx context.Context, tx pgx.Tx) (lots.Run, []feed.Fact, error) { return s.app.CloseRun(ctx, tx, c) })
}

// GetPackLot reads a lot by name or code.
func (s *Server) GetPackLot(ctx context.Context, req *inventoryv1.GetPackLotRequest) (*inventoryv1.PackLot, error) {
	r := s.reader()
	id := r.word("name", "packLots", req.GetName())
	if err := r.err(); err != nil {
		return nil, err
	}
	lot, err := s.app.Run(ctx, id)
	if err != nil {
		return nil, err
	}
	return present.Run(lot, s.app.Unit), nil
}

// ListPackLots lists lots.
func (s *Server) ListPackLots(ctx context.Context, req *inventoryv1.ListPackLotsRequest) (*inventoryv1.ListPackLotsResponse, error) {
	before := newest
	size, err := paging(req, &before)
	if err != nil {
		return nil, err
	}
	runs, err := s.app.Lots.Runs(ctx, s.app.DB.Pool(), before, size+1)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.ListPackLotsResponse{}
	runs, answer.NextPageToken = page.Cut(runs, size, req, func(last lots.Run) any { return last.Number })
	for _, lot := range runs {
		answer.PackLots = append(answer.PackLots, present.Run(lot, s.app.Unit))
	}
	return answer, nil
}

// Ship records what left for a customer.
func (s *Server) Ship(ctx context.Context, req *inventoryv1.ShipRequest) (*inventoryv1.Shipment, error) {
	r := s.reader()
	c := app.Shipment{
		Order: r.optionalID("order", "orders", req.GetOrder()), Customer: req.GetCustomer(), Contact: strings.TrimSpace(req.GetRecallContact()),
		Carrier: sale.Carrier{
			Name: strings.TrimSpace(req.GetCarrier()), Address: strings.TrimSpace(req.GetCarrierAddress()), Telephone: strings.TrimSpace(req.GetCarrierTelephone()),
		},
		Shipper: access.From(ctx).Login,
	}
	if (req.GetOrder() == "") == (req.GetCustomer() == "") {
		r.note("customer", errForWhom)
	}
	for _, l := range req.GetLines() {
		c.Lines = append(c.Lines, app.ShipmentLine{Lot: r.id("lines.pack_lot", "packLots", l.GetPackLot()), Jars: l.GetJars()})
	}
	for _, l := range req.GetBulkLines() {
		c.Bulk = append(c.Bulk, r.bulk(l))
	}
	var pallets []string
	for n, name := range req.GetPallets() {
		pallets = append(pallets, r.word(fmt.Sprintf("pallets[%d]", n), "pallets", name))
	}
	if len(c.Lines)+len(c.Bulk)+len(pallets) == 0 {
		r.note("lines", errNothingShipped)
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.Shipment, []feed.Fact, error) {
		made, facts, err := s.app.Ship(ctx, tx, c, pallets)
		return app.ShipmentMessage(made, s.app.Unit), facts, err
	})
}

var (
	errNothingShipped = errors.New("are empty: name jars of a lot, a pallet, or bulk honey")
	errForWhom        = errors.New("is given where no order is, and only there: an order has its customer")
	errJarsWeigh      = errors.New("is given beside jars: what jars weigh is known from their lot")
	errNoContainers   = errors.New("are missing: say what the honey left the tank in")
)

func (r *reader) bulk(m *inventoryv1.BulkLine) app.BulkLine {
	place := r.warmed("bulk_lines.place", m.GetPlace())
	if place.Kind() == lots.Charge && m.GetContainers() == "" {
		r.note("bulk_lines.containers", errNoContainers)
	}
	return app.BulkLine{Place: place, Mass: r.optionalMass("bulk_lines.mass", m.GetMass()), Containers: m.GetContainers()}
}

// GetShipment reads one.
func (s *Server) GetShipment(ctx context.Context, req *inventoryv1.GetShipmentRequest) (*inventoryv1.Shipment, error) {
	id, err := parseName("name", "shipments", req.GetName())
	if err != nil {
		return nil, err
	}
	one, err := s.app.Lots.Shipment(ctx, s.app.DB.Pool(), id)
	if err != nil {
		return nil, err
	}
	return app.ShipmentMessage(one, s.app.Unit), nil
}

// ListShipments lists shipments.
func (s *Server) ListShipments(ctx context.Context, req *inventoryv1.ListShipmentsRequest) (*inventoryv1.ListShipmentsResponse, error) {
	before := newest
	size, err := paging(req, &before)
	if err != nil {
		return nil, err
	}
	shipments, err := s.app.Lots.Shipments(ctx, s.app.DB.Pool(), before, size+1)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.ListShipmentsResponse{}
	shipments, answer.NextPageToken = page.Cut(shipments, size, req, func(last app.Shipment) any { return last.Number })
	for _, one := range shipments {
		answer.Shipments = append(answer.Shipments, app.ShipmentMessage(one, s.app.Unit))
	}
	return answer, nil
}

// RecordLoss books honey that is gone.
func (s *Server) RecordLoss(ctx context.Context, req *inventoryv1.RecordLossRequest) (*inventoryv1.Transfer, error) {
	r := s.reader()
	c := app.RecordLoss{
		From: lots.Place(req.GetFrom()), Code: strings.TrimPrefix(req.GetCode().String(), present.LossPrefix), Jars: req.GetJars(),
		Reason: req.GetReason(), Actor: access.From(ctx).Login,
	}
	switch {
	case c.Jars == 0:
		c.Mass = r.mass("mass", req.GetMass(), 1)
	case req.GetMass() != nil:
		r.note("mass", errJarsWeigh)
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.Transfer, []feed.Fact, error) {
		t, facts, err := s.app.RecordLoss(ctx, tx, c)
		return present.Transfer(t, s.app.Unit), facts, err
	})
}

// SplitBarrel fills smaller containers from a barrel.
func (s *Server) SplitBarrel(ctx context.Context, req *inventoryv1.SplitBarrelRequest) (*inventoryv1.SplitBarrelResponse, error) {
	r := s.reader()
	c := app.SplitBarrel{Barrel: r.id("name", "stock", req.GetName()), Actor: access.From(ctx).Login}
	tags := map[string]bool{}
	for _, p := range req.GetParts() {
		c.Parts = append(c.Parts, app.SplitPart{DrumTag: p.GetDrumTag(), Net: r.mass("parts.net", p.GetNet(), 1)})
		if tags[p.GetDrumTag()] {
			return nil, apierr.Field("parts.drum_tag", p.GetDrumTag()+" names two containers")
		}
		tags[p.GetDrumTag()] = true
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.SplitBarrelResponse, []feed.Fact, error) {
		splits, left, facts, err := s.app.SplitBarrel(ctx, tx, c)
		answer := &inventoryv1.SplitBarrelResponse{Remaining: wire.MassToProto(left, s.app.Unit)}
		for _, one := range splits {
			answer.StockItems = append(answer.StockItems, stock.Name(one.Barrel))
		}
		return answer, facts, err
	})
}
