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
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// ProgressStore is where part-payments are kept.
type ProgressStore interface {
	InsertProgress(ctx context.Context, tx pgx.Tx, g *domain.ProgressPayment) error
	InsertProgressAdoption(ctx context.Context, tx pgx.Tx, g *domain.ProgressPayment) error
	Progress(ctx context.Context, q pg.Querier, id uuid.UUID) (*domain.ProgressPayment, error)
	PoolProgress(ctx context.Context, q pg.Querier, pool uuid.UUID) ([]*domain.ProgressPayment, error)
	PaidProgress(ctx context.Context, q pg.Querier) ([]*domain.ProgressPayment, error)
	ProgressSums(ctx context.Context, q pg.Querier, scope domain.Scope, rate quantity.Price) (domain.ProgressSums, error)
	HasHoney(ctx context.Context, q pg.Querier, scope domain.Scope, member string) (bool, error)
	Progressed(ctx context.Context, q pg.Querier, advances []uuid.UUID) (map[uuid.UUID]quantity.Money, error)
}

// scopeOf is which honey an open pool takes now.
func (a *App) scopeOf(ctx context.Context, q pg.Querier, p *pool.Account) (domain.Scope, error) {
	all, err := a.Store.PoolsOf(ctx, q, p.CropYear)
	if err != nil {
		return domain.Scope{}, err
	}
	return p.Scope(all), nil
}

// openProgress are the part-payments of pools that are not closed, with the honey they are for.
func (a *App) openProgress(ctx context.Context, q pg.Querier) ([]*domain.ProgressPayment, error) {
	paid, err := a.Store.PaidProgress(ctx, q)
	if err != nil {
		return nil, err
	}
	var open []*domain.ProgressPayment
	for _, g := range paid {
		p, err := a.Store.Pool(ctx, q, g.Pool)
		if err != nil {
			return nil, err
		}
		if p.Closed() {
			continue
		}
		if g.Scope, err = a.scopeOf(ctx, q, p); err != nil {
			return nil, err
		}
		open = append(open, g)
	}
	return open, nil
}

// ProposeProgress proposes a part-payment. It pays nothing.
func (a *App) ProposeProgress(ctx context.Context, req *settlementv1.ProposeProgressRequest) (*settlementv1.ProgressPayment, error) {
	rate, err := wire.PriceFromProto(req.GetRate(), a.Terms.Currency, a.Terms.Unit)
	if err != nil {
		return nil, apierr.Field("rate", err.Error())
	}
	if rate <= 0 {
		return nil, apierr.Field("rate", fmt.Sprintf("is %v; it must be above 0", rate))
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.ProgressPayment, []feed.Fact, error) {
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
		g := &domain.ProgressPayment{Pool: p.ID, Title: p.Title, Rate: rate, Proposer: access.From(ctx).Login, ProposeTime: a.Clock.Now()}
		if g.ID, err = uuid.NewRandom(); err != nil {
			return nil, nil, fmt.Errorf("name the progress payment: %w", err)
		}
		if err := a.Store.InsertProgress(ctx, tx, g); err != nil {
			return nil, nil, err
		}
		made, err := a.progressToProto(ctx, tx, g, p)
		return made, nil, err
	})
}

// AdoptProgress credits a part-payment to everybody with honey in the pool.
func (a *App) AdoptProgress(ctx context.Context, req *settlementv1.AdoptProgressRequest) (*settlementv1.ProgressPayment, error) {
	id, err := identity(req.GetName(), "progressPayments")
	if err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.ProgressPayment, []feed.Fact, error) {
		if err := a.Store.Patient(ctx, tx); err != nil {
			return nil, nil, err
		}
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		g, err := a.Store.Progress(ctx, tx, id)
		if err == nil && g == nil {
			err = apierr.NotFound(req.GetName())
		}
		if err != nil {
			return nil, nil, err
		}
		p, err := a.Store.Pool(ctx, tx, g.Pool)
		if err != nil {
			return nil, nil, err
		}
		if err := a.adoptProgress(ctx, tx, g, p, req.GetResolution()); err != nil {
			return nil, nil, err
		}
		made, err := a.progressToProto(ctx, tx, g, p)
		// One fact for all barrels, as for the finals of a run.
		return made, []feed.Fact{{Aggregate: g.Name(), Payload: &settlementv1.ProgressPaid{ProgressPayment: made}}}, err
	})
}

func (a *App) adoptProgress(ctx context.Context, tx pgx.Tx, g *domain.ProgressPayment, p *pool.Account, resolution string) error {
	if err := p.MustBeOpen(); err != nil {
		return err
	}
	scope, err := a.scopeOf(ctx, tx, p)
	if err != nil {
		return err
	}
	actor := access.From(ctx)
	interested, err := a.Store.HasHoney(ctx, tx, scope, actor.Member)
	if err != nil {
		return err
	}
	if err := g.Adopt(resolution, actor.Login, interested, a.Clock.Now()); err != nil {
		return err
	}
	if g.Sums, err = a.Store.ProgressSums(ctx, tx, scope, g.Rate); err != nil {
		return err
	}
	if g.Sums.Barrels == 0 {
		return &domain.StateError{Resource: p.Name(), State: "NO_HONEY", Message: fmt.Sprintf("no barrel of pool %q is priced yet; there is nothing to pay on", p.Title)}
	}
	if err := a.Store.InsertProgressAdoption(ctx, tx, g); err != nil {
		return err
	}
	return a.payProgress(ctx, tx, g, scope)
}

// payProgress makes the payouts, piece by piece in the one transaction, and compares their sum with what was reached in SQL.
func (a *App) payProgress(ctx context.Context, tx pgx.Tx, g *domain.ProgressPayment, scope domain.Scope) error {
	var advances []uuid.UUID
	var owners []int
	last := uuid.UUID{}
	if err := a.Store.Harvest(ctx, tx, scope, func(h *pool.Harvested) error {
		if h.Barrel != last {
			owners, last = append(owners, 0), h.Barrel
		}
		owners[len(owners)-1]++
		advances = append(advances, h.Advance)
		return nil
	}); err != nil {
		return err
	}
	var sum quantity.Money
	for len(owners) > 0 {
		barrels, count := 0, 0
		for barrels < len(owners) && count < finalsAtOnce {
			count += owners[barrels]
			barrels++
		}
		made, err := a.progressOn(ctx, tx, g, advances[:count], owners[:barrels])
		if err != nil {
			return err
		}
		for _, p := range made {
			sum += p.Net
		}
		if err := a.save(ctx, tx, made); err != nil {
			return err
		}
		advances, owners = advances[count:], owners[barrels:]
	}
	if sum != g.Sums.Amount {
		return &domain.TotalError{What: "the payouts of " + g.Name(), Want: g.Sums.Amount, Got: sum}
	}
	return nil
}

// progressOn makes the payouts of some barrels. owners says how many of the advances each has.
func (a *App) progressOn(ctx context.Context, tx pgx.Tx, g *domain.ProgressPayment, ids []uuid.UUID, owners []int) ([]*domain.Payout, error) {
	found, err := a.originals(ctx, tx, ids)
	if err != nil {
		return nil, err
	}
	var out []*domain.Payout
	for _, n := range owners {
		parts := make([]*domain.Payout, n)
		for i := range parts {
			parts[i] = found[ids[i]]
		}
		ids = ids[n:]
		made, err := domain.NewProgress(parts, g, a.Terms, *g.AdoptTime)
		if err != nil {
			return nil, err
		}
		out = append(out, made...)
	}
	return out, nil
}

// progressOf are a pool's part-payments.
func (a *App) progressOf(ctx context.Context, q pg.Querier, p *pool.Account) ([]*settlementv1.ProgressPayment, error) {
	found, err := a.Store.PoolProgress(ctx, q, p.ID)
	if err != nil {
		return nil, err
	}
	var out []*settlementv1.ProgressPayment
	for _, g := range found {
		row, err := a.progressToProto(ctx, q, g, p)
		if err != nil {
			return nil, err
		}
		out = append(out, row)
	}
	return out, nil
}

func (a *App) progressToProto(ctx context.Context, q pg.Querier, g *domain.ProgressPayment, p *pool.Account) (*settlementv1.ProgressPayment, error) {
	sums := g.Sums
	if !g.Paid() && !p.Closed() {
		scope, err := a.scopeOf(ctx, q, p)
		if err != nil {
			return nil, err
		}
		if sums, err = a.Store.ProgressSums(ctx, q, scope, g.Rate); err != nil {
			return nil, err
		}
	}
	out := &settlementv1.ProgressPayment{
		Name: g.Name(), Pool: p.Name(), Rate: wire.PriceToProto(g.Rate, a.Terms.Currency, a.Terms.Unit), Payable: wire.MassToProto(sums.Payable, a.Terms.Unit),
		Amount: wire.MoneyToProto(sums.Amount, a.Terms.Currency), Barrels: int32(sums.Barrels), //nolint:gosec // a count
		Distributable:  wire.MoneyToProto(p.Proceeds-p.Expenses, a.Terms.Currency),
		CreditedBefore: wire.MoneyToProto(sums.Credited, a.Terms.Currency), Proposer: g.Proposer, ProposeTime: stamp(g.ProposeTime), Resolution: g.Resolution, Adopter: g.Adopter,
	}
	if g.Paid() {
		out.AdoptTime = stamp(*g.AdoptTime)
	}
	return out, nil
}
