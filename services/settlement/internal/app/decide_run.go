package app

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/ledger"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// onRun loads a run and the fingerprint of its inputs as they are now, with the gate held: nothing can change them before
// the decision is saved. They are read barrel by barrel whatever is remembered of them, because a decision binds.
func (a *App) onRun(ctx context.Context, tx pgx.Tx, name string) (*pool.Run, string, error) {
	if err := a.Store.Patient(ctx, tx); err != nil {
		return nil, "", err
	}
	if err := a.Store.LockGate(ctx, tx); err != nil {
		return nil, "", err
	}
	r, err := a.run(ctx, tx, name)
	if err != nil {
		return nil, "", err
	}
	current, err := a.digest(ctx, tx, r.Pool)
	return r, current, err
}

// ApproveRun records the board's approval of exactly one calculation.
func (a *App) ApproveRun(ctx context.Context, req *settlementv1.ApproveRunRequest) (*settlementv1.Run, error) {
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.Run, []feed.Fact, error) {
		r, current, err := a.onRun(ctx, tx, req.GetName())
		if err != nil {
			return nil, nil, err
		}
		actor := access.From(ctx)
		interested, err := a.Store.InRun(ctx, tx, r.ID, actor.Member)
		if err != nil {
			return nil, nil, err
		}
		if err := r.MayApprove(actor.Login, interested, req.GetFingerprint(), current); err != nil {
			return nil, nil, err
		}
		made, err := a.vote(ctx, tx, r, current, pool.Vote{Director: actor.Login, Minutes: req.GetMinutes(), Time: a.Clock.Now()})
		return made, []feed.Fact{{Aggregate: r.Name(), Payload: &settlementv1.RunApproved{Run: made}}}, err
	})
}

// AbstainFromRun records that a director took no part. It is no fact for neighbours.
func (a *App) AbstainFromRun(ctx context.Context, req *settlementv1.AbstainFromRunRequest) (*settlementv1.Run, error) {
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.Run, []feed.Fact, error) {
		r, current, err := a.onRun(ctx, tx, req.GetName())
		if err != nil {
			return nil, nil, err
		}
		if err := r.MayAbstain(); err != nil {
			return nil, nil, err
		}
		made, err := a.vote(ctx, tx, r, current, pool.Vote{
			Director: access.From(ctx).Login, Abstained: true, Minutes: req.GetMinutes(), Time: a.Clock.Now(),
		})
		return made, nil, err
	})
}

func (a *App) vote(ctx context.Context, tx pgx.Tx, r *pool.Run, current string, v pool.Vote) (*settlementv1.Run, error) {
	if err := a.Store.InsertVote(ctx, tx, r, v); err != nil {
		return nil, err
	}
	r.Votes = append(r.Votes, v)
	return a.runToProto(r, current)
}

// ReleaseRun prices the finals of an approved run and closes its pool.
func (a *App) ReleaseRun(ctx context.Context, req *settlementv1.ReleaseRunRequest) (*settlementv1.Run, error) {
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.Run, []feed.Fact, error) {
		r, current, err := a.onRun(ctx, tx, req.GetName())
		if err != nil {
			return nil, nil, err
		}
		actor := access.From(ctx)
		interested, err := a.Store.InRun(ctx, tx, r.ID, actor.Member)
		if err != nil {
			return nil, nil, err
		}
		if err := r.MayRelease(actor.Login, interested, req.GetFingerprint(), current); err != nil {
			return nil, nil, err
		}
		now := a.Clock.Now()
		r.Releaser, r.ReleaseTime = actor.Login, &now
		if err := a.Store.InsertRelease(ctx, tx, r); err != nil {
			return nil, nil, err
		}
		if err := a.close(ctx, tx, r); err != nil {
			return nil, nil, err
		}
		made, err := a.runToProto(r, current)
		// One fact for all finals: a season's would not fit one page of the feed, which ends at a transaction.
		return made, []feed.Fact{{Aggregate: r.Name(), Payload: &settlementv1.RunReleased{Run: made}}}, err
	})
}

// close prices the finals of a run and takes its pool off the year's accounts.
func (a *App) close(ctx context.Context, tx pgx.Tx, r *pool.Run) error {
	p, err := a.Store.Pool(ctx, tx, r.Pool)
	if err != nil {
		return err
	}
	if err := a.finals(ctx, tx, r, p); err != nil {
		return err
	}
	result, err := pool.ReadSummary(r.Outcome)
	if err != nil {
		return err
	}
	return a.book(ctx, tx, ledger.ForClosing(r, p, result, a.date(*r.ReleaseTime)))
}

// finalsAtOnce is how many advances are turned into finals at a time: their explanations are large, and a season's would
// not fit in memory.
const finalsAtOnce = 2_000

// finals makes and saves the payouts of a run, piece by piece in the one transaction. Their sums are compared with the run's
// own, which were reached another way.
func (a *App) finals(ctx context.Context, tx pgx.Tx, r *pool.Run, p *pool.Account) error {
	declared, err := r.Declared(p)
	if err != nil {
		return err
	}
	advances, owners, err := a.Store.RunAdvances(ctx, tx, r.ID)
	if err != nil {
		return err
	}
	paid := pool.Paid{}
	for len(owners) > 0 {
		barrels, count := 0, 0
		for barrels < len(owners) && count < finalsAtOnce {
			count += int(owners[barrels])
			barrels++
		}
		finals, err := a.finalsOf(ctx, tx, r, declared, advances[:count], owners[:barrels])
		if err != nil {
			return err
		}
		paid.Add(finals)
		if err := a.save(ctx, tx, finals); err != nil {
			return err
		}
		advances, owners = advances[count:], owners[barrels:]
	}
	members, err := a.Store.RunMembers(ctx, tx, r.ID, "", 0)
	if err != nil {
		return err
	}
	return paid.MustEqual(members)
}

// finalsOf makes the finals of some barrels. owners says how many of the advances each has.
func (a *App) finalsOf(ctx context.Context, tx pgx.Tx, r *pool.Run, declared *domain.ClosedPool, ids []uuid.UUID, owners []uint8) ([]*domain.Payout, error) {
	found, err := a.originals(ctx, tx, ids)
	if err != nil {
		return nil, err
	}
	progressed, err := a.Store.Progressed(ctx, tx, ids)
	if err != nil {
		return nil, err
	}
	for id, amount := range progressed {
		found[id].Progressed = amount
	}
	finals := make([]*domain.Payout, 0, len(ids))
	for _, n := range owners {
		advances := make([]*domain.Payout, n)
		for i := range advances {
			advances[i] = found[ids[i]]
		}
		ids = ids[n:]
		first := advances[0]
		row := declared.Row(first.Barrel.Variety, first.ColorClass, first.Grade)
		if row < 0 {
			return nil, fmt.Errorf("run %s declares no price for %s", r.Number, first.Name())
		}
		made, err := domain.NewFinals(advances, declared, row, a.Terms, *r.ReleaseTime)
		if err != nil {
			return nil, err
		}
		finals = append(finals, made...)
	}
	return finals, nil
}
