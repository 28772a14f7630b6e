package rpc

import (
	"context"
	"maps"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/sidegood"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/quantity"
)

// RecordSideEntry notes comb, chunk honey or wax.
func (s *Server) RecordSideEntry(ctx context.Context, req *inventoryv1.RecordSideEntryRequest) (*inventoryv1.SideEntry, error) {
	r := s.reader()
	var mass *quantity.Mass
	if req.GetMass() != nil {
		weighed := r.mass("mass", req.GetMass(), 1)
		mass = &weighed
	}
	good := sidegood.Good(strings.TrimPrefix(req.GetGood().String(), present.SideGoodPrefix))
	e, faults := sidegood.Read(good, sidegood.Move(strings.TrimPrefix(req.GetMove().String(), present.SideMovePrefix)), req.GetPieces(), mass)
	e.CropYear, e.Member, e.Customer, e.Note, e.Recorder = req.GetCropYear(), req.GetMember(), req.GetCustomer(), req.GetNote(), access.From(ctx).Login
	maps.Copy(faults, e.Parties())
	for _, field := range slices.Sorted(maps.Keys(faults)) {
		r.note(field, faults[field])
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.SideEntry, []feed.Fact, error) {
		made, facts, err := s.app.RecordSideEntry(ctx, tx, e)
		return present.SideEntry(made, s.app.Unit), facts, err
	})
}

// ListSideEntries lists entries.
func (s *Server) ListSideEntries(ctx context.Context, req *inventoryv1.ListSideEntriesRequest) (*inventoryv1.ListSideEntriesResponse, error) {
	before := newest
	size, err := paging(req, &before)
	if err != nil {
		return nil, err
	}
	found, err := s.app.Lots.SideEntries(ctx, s.app.DB.Pool(), before, size+1)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.ListSideEntriesResponse{}
	found, answer.NextPageToken = page.Cut(found, size, req, func(last sidegood.Entry) any { return last.Number })
	for _, e := range found {
		if !seesMembers(ctx) {
			e.Member = ""
		}
		answer.Entries = append(answer.Entries, present.SideEntry(e, s.app.Unit))
	}
	return answer, nil
}

// SummarizeSideGoods adds up what there is.
func (s *Server) SummarizeSideGoods(ctx context.Context, _ *inventoryv1.SummarizeSideGoodsRequest) (*inventoryv1.SummarizeSideGoodsResponse, error) {
	found, err := s.app.Lots.SideStocks(ctx, s.app.DB.Pool())
	answer := &inventoryv1.SummarizeSideGoodsResponse{}
	for _, one := range found {
		answer.Stocks = append(answer.Stocks, present.SideStock(one, s.app.Unit))
	}
	return answer, err
}
