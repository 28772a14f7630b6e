package rpc

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/line"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/netcontent"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/page"
)

// RecordLineClearance opens a line for the next lot.
func (s *Server) RecordLineClearance(ctx context.Context, req *inventoryv1.RecordLineClearanceRequest) (*inventoryv1.LineClearance, error) {
	c := app.ClearLine{Line: req.GetLine(), Cleaning: req.GetCleaning(), Actor: access.From(ctx).Login}
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.LineClearance, []feed.Fact, error) {
		made, facts, err := s.app.ClearLine(ctx, tx, c)
		return present.Clearance(made), facts, err
	})
}

// ListLineClearances lists clearances.
func (s *Server) ListLineClearances(ctx context.Context, req *inventoryv1.ListLineClearancesRequest) (*inventoryv1.ListLineClearancesResponse, error) {
	before := newest
	size, err := paging(req, &before)
	if err != nil {
		return nil, err
	}
	found, err := s.app.Lots.Clearances(ctx, s.app.DB.Pool(), before, size+1)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.ListLineClearancesResponse{}
	found, answer.NextPageToken = page.Cut(found, size, req, func(last line.Clearance) any { return last.Number })
	for _, c := range found {
		answer.Clearances = append(answer.Clearances, present.Clearance(c))
	}
	return answer, nil
}

// CheckLine weighs a few jars of a run.
func (s *Server) CheckLine(ctx context.Context, req *inventoryv1.CheckLineRequest) (*inventoryv1.LineCheck, error) {
	r := s.reader()
	unit := netcontent.Unit(strings.TrimPrefix(req.GetUnit().String(), present.NetUnitPrefix))
	c := app.CheckLine{Run: r.id("pack_lot", "packLots", req.GetPackLot()), Check: line.Check{Unit: unit}, Actor: access.From(ctx).Login}
	for i, w := range req.GetNetWeights() {
		c.Check.Weights = append(c.Check.Weights, r.netWeight(fmt.Sprintf("net_weights[%d]", i), w, unit, 0))
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.LineCheck, []feed.Fact, error) {
		made, facts, err := s.app.CheckLine(ctx, tx, c)
		return present.LineCheck(made), facts, err
	})
}

// ListLineChecks lists the checks of a run.
func (s *Server) ListLineChecks(ctx context.Context, req *inventoryv1.ListLineChecksRequest) (*inventoryv1.ListLineChecksResponse, error) {
	run, err := parseName("pack_lot", "packLots", req.GetPackLot())
	if err != nil {
		return nil, err
	}
	checks, err := s.app.LineChecks(ctx, run)
	answer := &inventoryv1.ListLineChecksResponse{}
	for _, c := range checks {
		answer.Checks = append(answer.Checks, present.LineCheck(c))
	}
	return answer, err
}

var errLotTwice = errors.New("is named twice: add the jars up")

// pallet is do for changes that answer with a pallet.
func (s *Server) pallet(ctx context.Context, req idem.Request, fn func(ctx context.Context, tx pgx.Tx) (lots.Pallet, []feed.Fact, error)) (*inventoryv1.Pallet, error) {
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.Pallet, []feed.Fact, error) {
		p, facts, err := fn(ctx, tx)
		return present.Pallet(p), facts, err
	})
}

// BuildPallet stacks jars.
func (s *Server) BuildPallet(ctx context.Context, req *inventoryv1.BuildPalletRequest) (*inventoryv1.Pallet, error) {
	r := s.reader()
	p := lots.Pallet{Builder: access.From(ctx).Login}
	seen := map[uuid.UUID]bool{}
	for n, l := range req.GetLines() {
		field := fmt.Sprintf("lines[%d].pack_lot", n)
		id := r.id(field, "packLots", l.GetPackLot())
		if seen[id] {
			r.note(field, errLotTwice)
		}
		seen[id] = true
		p.Lines = append(p.Lines, lots.PalletLine{Lot: id, Jars: l.GetJars()})
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return s.pallet(ctx, req, func(ctx context.Context, tx pgx.Tx) (lots.Pallet, []feed.Fact, error) {
		return s.app.BuildPallet(ctx, tx, p)
	})
}

// BreakPallet takes a pallet apart.
func (s *Server) BreakPallet(ctx context.Context, req *inventoryv1.BreakPalletRequest) (*inventoryv1.Pallet, error) {
	id, err := parseName("name", "pallets", req.GetName())
	if err != nil {
		return nil, err
	}
	actor := access.From(ctx).Login
	return s.pallet(ctx, req, func(ctx context.Context, tx pgx.Tx) (lots.Pallet, []feed.Fact, error) {
		return s.app.BreakPallet(ctx, tx, id, actor, req.GetReason())
	})
}

// GetPallet reads a pallet by name or code.
func (s *Server) GetPallet(ctx context.Context, req *inventoryv1.GetPalletRequest) (*inventoryv1.Pallet, error) {
	r := s.reader()
	id := r.word("name", "pallets", req.GetName())
	if err := r.err(); err != nil {
		return nil, err
	}
	p, err := s.app.Lots.Pallet(ctx, s.app.DB.Pool(), id)
	if err != nil {
		return nil, err
	}
	return present.Pallet(p), nil
}

// ListPallets lists pallets.
func (s *Server) ListPallets(ctx context.Context, req *inventoryv1.ListPalletsRequest) (*inventoryv1.ListPalletsResponse, error) {
	before := newest
	size, err := paging(req, &before)
	if err != nil {
		return nil, err
	}
	r := s.reader()
	f := app.PalletFilter{InHouse: req.GetInHouseOnly(), Lot: r.optionalID("pack_lot", "packLots", req.GetPackLot())}
	if err := r.err(); err != nil {
		return nil, err
	}
	found, err := s.app.Lots.Pallets(ctx, s.app.DB.Pool(), f, before, size+1)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.ListPalletsResponse{}
	found, answer.NextPageToken = page.Cut(found, size, req, func(last lots.Pallet) any { return last.Number })
	for _, p := range found {
		answer.Pallets = append(answer.Pallets, present.Pallet(p))
	}
	return answer, nil
}
