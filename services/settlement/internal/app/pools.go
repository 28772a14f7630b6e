package app

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/ledger"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// OpenPool opens the accounts of honey marketed together.
func (a *App) OpenPool(ctx context.Context, req *settlementv1.OpenPoolRequest) (*settlementv1.Pool, error) {
	draft, err := a.readPool(req.GetPool())
	if err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.Pool, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		others, err := a.Store.PoolsOf(ctx, tx, draft.CropYear)
		if err != nil {
			return nil, nil, err
		}
		if err := draft.Beside(others); err != nil {
			return nil, nil, err
		}
		p := *draft
		p.Opener, p.OpenTime = access.From(ctx).Login, a.Clock.Now()
		if p.ID, err = uuid.NewRandom(); err != nil {
			return nil, nil, fmt.Errorf("name the pool: %w", err)
		}
		made := a.poolToProto(&p)
		return made, []feed.Fact{{Aggregate: p.Name(), Payload: &settlementv1.PoolOpened{Pool: made}}}, a.Store.InsertPool(ctx, tx, &p)
	})
}

func (a *App) readPool(p *settlementv1.Pool) (*pool.Account, error) {
	var f faultList
	out := &pool.Account{CropYear: int(p.GetCropYear()), Title: p.GetTitle(), Varieties: append([]string{}, p.GetVarieties()...)}
	for i, d := range p.GetDifferentials() {
		amount, err := wire.PriceFromProto(d.GetAmount(), a.Terms.Currency, a.Terms.Unit)
		f.note(fmt.Sprintf("pool.differentials[%d].amount", i), err)
		out.Classes = append(out.Classes, pool.Class{Variety: d.GetVariety(), ColorClass: d.GetColorClass(), Grade: d.GetGrade(), Differential: amount})
	}
	return out, refuse("pool", f, out.Validate())
}

// pool is one pool, or NOT_FOUND.
func (a *App) pool(ctx context.Context, q pg.Querier, name string) (*pool.Account, error) {
	id, err := identity(name, "pools")
	if err != nil {
		return nil, err
	}
	p, err := a.Store.Pool(ctx, q, id)
	if err == nil && p == nil {
		err = apierr.NotFound(name)
	}
	return p, err
}

// GetPool reads a pool with the sums of its accounts.
func (a *App) GetPool(ctx context.Context, req *settlementv1.GetPoolRequest) (*settlementv1.Pool, error) {
	p, err := a.pool(ctx, a.DB.Pool(), req.GetName())
	if err != nil {
		return nil, err
	}
	out := a.poolToProto(p)
	out.ProgressPayments, err = a.progressOf(ctx, a.DB.Pool(), p)
	return out, err
}

// ListPools pages through pools.
func (a *App) ListPools(ctx context.Context, req *settlementv1.ListPoolsRequest) (*settlementv1.ListPoolsResponse, error) {
	var after pool.Key
	size, err := begin(req, &after)
	if err != nil {
		return nil, err
	}
	found, err := a.Store.ListPools(ctx, a.DB.Pool(), after, size+1)
	if err != nil {
		return nil, err
	}
	out := &settlementv1.ListPoolsResponse{}
	found, out.NextPageToken = page.Cut(found, size, req, func(p *pool.Account) any { return pool.Key{CropYear: p.CropYear, Number: p.Number} })
	for _, p := range found {
		out.Pools = append(out.Pools, a.poolToProto(p))
	}
	return out, nil
}

// RecordPoolEntry puts an amount on a pool's account.
func (a *App) RecordPoolEntry(ctx context.Context, req *settlementv1.RecordPoolEntryRequest) (*settlementv1.PoolEntry, error) {
	draft, err := a.readEntry(req.GetEntry())
	if err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.PoolEntry, []feed.Fact, error) {
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
		e := *draft
		e.Pool, e.Recorder, e.RecordTime = p.ID, access.From(ctx).Login, a.Clock.Now()
		fact, err := a.enter(ctx, tx, &e, p)
		return a.entryToProto(&e), []feed.Fact{fact}, err
	})
}

// CarryOver sells unsold honey to another pool.
func (a *App) CarryOver(ctx context.Context, req *settlementv1.CarryOverRequest) (*settlementv1.CarryOverResponse, error) {
	draft, err := a.readEntry(&settlementv1.PoolEntry{
		Kind: settlementv1.PoolEntryKind_POOL_ENTRY_KIND_PROCEEDS, Amount: req.GetAmount(), Description: req.GetDescription(), Document: req.GetDocument(), EntryDate: req.GetEntryDate(),
	})
	if err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.CarryOverResponse, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		from, err := a.pool(ctx, tx, req.GetPool())
		if err != nil {
			return nil, nil, err
		}
		to, err := a.pool(ctx, tx, req.GetToPool())
		if err != nil {
			return nil, nil, err
		}
		e := *draft
		e.Recorder, e.RecordTime = access.From(ctx).Login, a.Clock.Now()
		sold, bought, err := e.CarryOver(from, to)
		if err != nil {
			return nil, nil, err
		}
		first, err := a.enter(ctx, tx, sold, from)
		if err != nil {
			return nil, nil, err
		}
		second, err := a.enter(ctx, tx, bought, to)
		return &settlementv1.CarryOverResponse{Sold: a.entryToProto(sold), Bought: a.entryToProto(bought)}, []feed.Fact{first, second}, err
	})
}

// enter names an entry and puts it on a pool's account and in the books.
func (a *App) enter(ctx context.Context, tx pgx.Tx, e *pool.Record, p *pool.Account) (fact feed.Fact, err error) {
	if e.ID, err = uuid.NewRandom(); err != nil {
		return fact, fmt.Errorf("name the entry: %w", err)
	}
	fact = feed.Fact{Aggregate: p.Name(), Payload: &settlementv1.PoolEntryRecorded{Entry: a.entryToProto(e)}}
	if err := a.Store.InsertPoolEntry(ctx, tx, e); err != nil {
		return fact, err
	}
	return fact, a.book(ctx, tx, ledger.ForPoolEntry(e, p.CropYear))
}

func (a *App) readEntry(p *settlementv1.PoolEntry) (*pool.Record, error) {
	var f faultList
	e := &pool.Record{Kind: pool.EntryKind(p.GetKind()), Description: p.GetDescription(), Document: p.GetDocument()}
	var err error
	e.Amount, err = wire.EnteredFromProto(p.GetAmount(), a.Terms.Currency)
	f.note("entry.amount", err)
	e.Date, err = domain.ParseDate(p.GetEntryDate())
	f.note("entry.entry_date", err)
	return e, refuse("entry", f, e.Validate())
}

// ListPoolEntries pages through a pool's account.
func (a *App) ListPoolEntries(ctx context.Context, req *settlementv1.ListPoolEntriesRequest) (*settlementv1.ListPoolEntriesResponse, error) {
	p, err := a.pool(ctx, a.DB.Pool(), req.GetPool())
	if err != nil {
		return nil, err
	}
	var after int64
	size, err := begin(req, &after)
	if err != nil {
		return nil, err
	}
	found, err := a.Store.PoolEntries(ctx, a.DB.Pool(), p.ID, after, size+1)
	if err != nil {
		return nil, err
	}
	out := &settlementv1.ListPoolEntriesResponse{}
	found, out.NextPageToken = page.Cut(found, size, req, func(e *pool.Record) any { return e.Number })
	for _, e := range found {
		out.Entries = append(out.Entries, a.entryToProto(e))
	}
	return out, nil
}

// paged is a list request.
type paged interface {
	GetPageSize() int32
	GetPageToken() string
}

// begin reads where a page begins into key, and how many rows it has.
func begin(req paged, key any) (size int, err error) {
	if size, err = page.Size(req.GetPageSize()); err != nil {
		return 0, err
	}
	return size, page.Decode(req.GetPageToken(), req, key)
}
