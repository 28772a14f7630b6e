package app

import (
	"context"

	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// mostBooked is how many parts of sales one request enters, so that its facts fit a page of the feed.
const mostBooked = 200

// BookSales enters what the warehouse says its shipments brought and cost on the account of the pool whose honey it was.
func (a *App) BookSales(ctx context.Context, req *settlementv1.BookSalesRequest) (*settlementv1.BookSalesResponse, error) {
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.BookSalesResponse, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		p, err := a.pool(ctx, tx, req.GetPool())
		if err != nil {
			return nil, nil, err
		}
		if err := p.MustBeOpen(); err != nil {
			return nil, nil, err
		}
		mine, err := a.salesOf(ctx, tx, p)
		if err != nil {
			return nil, nil, err
		}
		out := &settlementv1.BookSalesResponse{Left: int32(max(0, len(mine)-mostBooked))} //nolint:gosec // a count of rows read
		var facts []feed.Fact
		for _, part := range mine[:min(len(mine), mostBooked)] {
			e := part.Entry(p.ID, a.Terms.Unit)
			e.Recorder, e.RecordTime = access.From(ctx).Login, a.Clock.Now()
			fact, err := a.enter(ctx, tx, e, p)
			if err != nil {
				return nil, nil, err
			}
			out.Entries, facts = append(out.Entries, a.entryToProto(e)), append(facts, fact)
		}
		return out, facts, nil
	})
}

// salesOf are the parts on no account yet whose honey a pool takes.
func (a *App) salesOf(ctx context.Context, q pg.Querier, p *pool.Account) (mine []*pool.SalePart, err error) {
	beside, err := a.Store.PoolsOf(ctx, q, p.CropYear)
	if err != nil {
		return nil, err
	}
	parts, err := a.Store.UnbookedSales(ctx, q, p.CropYear, pool.SaleKey{}, 0)
	for _, part := range parts {
		if of := part.Of(beside); of != nil && of.ID == p.ID {
			mine = append(mine, part)
		}
	}
	return mine, err
}

// ListUnbookedSales pages through what stands on no account yet.
func (a *App) ListUnbookedSales(ctx context.Context, req *settlementv1.ListUnbookedSalesRequest) (*settlementv1.ListUnbookedSalesResponse, error) {
	var after pool.SaleKey
	size, err := begin(req, &after)
	if err != nil {
		return nil, err
	}
	found, err := a.Store.UnbookedSales(ctx, a.DB.Pool(), 0, after, size+1)
	if err != nil {
		return nil, err
	}
	out := &settlementv1.ListUnbookedSalesResponse{}
	found, out.NextPageToken = page.Cut(found, size, req, func(s *pool.SalePart) any { return s.Key() })
	pools := map[int][]*pool.Account{}
	for _, s := range found {
		beside, read := pools[s.CropYear]
		if !read {
			if beside, err = a.Store.PoolsOf(ctx, a.DB.Pool(), s.CropYear); err != nil {
				return nil, err
			}
			pools[s.CropYear] = beside
		}
		out.Parts = append(out.Parts, a.salePartToProto(s, s.Of(beside)))
	}
	return out, nil
}

func (a *App) salePartToProto(s *pool.SalePart, of *pool.Account) *settlementv1.UnbookedSale {
	m := &settlementv1.UnbookedSale{
		Sale: named("sales", s.Sale), Shipment: named("shipments", s.Shipment), Kind: settlementv1.PoolEntryKind(s.Kind), //nolint:gosec // one of two
		Variety: s.Variety, CropYear: int32(s.CropYear), Mass: wire.MassToProto(s.Mass, a.Terms.Unit), //nolint:gosec // a year
		Amount: wire.MoneyToProto(s.Amount, a.Terms.Currency), Document: s.Document, EntryDate: string(s.Date),
	}
	if of != nil {
		m.Pool = of.Name()
	}
	return m
}

// SaleStore is where what the warehouse says of its sales is read.
type SaleStore interface {
	// UnbookedSales lists the parts on no account, of one crop year or, with 0, of all; limit 0 is no limit.
	UnbookedSales(ctx context.Context, q pg.Querier, cropYear int, after pool.SaleKey, limit int) ([]*pool.SalePart, error)
}
