package app

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// WriteOffs is where requests to write honey off are kept.
type WriteOffs interface {
	AddWriteOff(ctx context.Context, q pg.Querier, o lots.WriteOff) error
	// AddVerdict records how one ended.
	AddVerdict(ctx context.Context, q pg.Querier, o lots.WriteOff) error
	WriteOff(ctx context.Context, q pg.Querier, id uuid.UUID) (lots.WriteOff, error)
	// WriteOffs lists those numbered below before, newest first; an empty place is all places.
	WriteOffs(ctx context.Context, q pg.Querier, waitingOnly bool, place lots.Place, before int64, limit int) ([]lots.WriteOff, error)
	// Waiting is what is asked for at a place, which must be locked, and not decided.
	Waiting(ctx context.Context, q pg.Querier, place lots.Place) (lots.Waiting, error)
}

// RequestWriteOff records that honey is asked to be written off: a mass, or jars of a closed lot. No honey moves.
func (a *App) RequestWriteOff(ctx context.Context, tx pgx.Tx, o lots.WriteOff) (lots.WriteOff, []feed.Fact, error) {
	w := a.work(ctx, tx, o.Asker)
	from, err := w.losable(missing(o))
	if err != nil {
		return o, nil, err
	}
	if o.Jars > 0 {
		if o.Mass, err = from.run.Take(o.Jars); err != nil {
			return o, nil, err
		}
	}
	waiting, err := a.Lots.Waiting(ctx, tx, o.Place)
	if err != nil {
		return o, nil, err
	}
	o.ID, o.Time, o.Held, o.Holds = uuid.New(), a.now(), from.mass, from.mass
	if err := o.Ask(waiting, from.loose, from.called, a.Unit); err != nil {
		return o, nil, err
	}
	if err := a.Lots.AddWriteOff(ctx, tx, o); err != nil {
		return o, nil, err
	}
	return o, []feed.Fact{{Aggregate: o.Name(), OccurTime: o.Time, Payload: &inventoryv1.WriteOffRequested{WriteOff: present.WriteOff(o, a.Unit)}}}, nil
}

// missing is the loss that is asked for.
func missing(o lots.WriteOff) RecordLoss {
	return RecordLoss{From: o.Place, Code: lots.Unexplained, Mass: o.Mass, Jars: o.Jars, Reason: o.Booking()}
}

// DecideWriteOff approves a request or declines it.
type DecideWriteOff struct {
	WriteOff uuid.UUID
	Approve  bool
	Reason   string
	Decider  string
	// Member is whose the decider's login is, "members/M-0007"; empty for nobody's.
	Member string
}

// DecideWriteOff records it; approved, the loss is booked from what is there now.
func (a *App) DecideWriteOff(ctx context.Context, tx pgx.Tx, c DecideWriteOff) (lots.WriteOff, []feed.Fact, error) {
	w := a.work(ctx, tx, c.Decider)
	o, err := w.requested(c.WriteOff)
	if err != nil {
		return o, nil, err
	}
	interested, err := w.interested(o.Place, c.Member)
	if err != nil {
		return o, nil, err
	}
	if err := o.MayDecide(c.Decider, interested); err != nil {
		return o, nil, err
	}
	v := lots.Verdict{Reason: c.Reason, Decider: c.Decider, Time: a.now()}
	if c.Approve {
		t, err := w.writeOff(o)
		if err != nil {
			return o, nil, err
		}
		v.Transfer, v.Mass = t.ID, t.Mass
		o.Holds -= t.Mass
	}
	o.Decided = &v
	if err := a.Lots.AddVerdict(ctx, tx, o); err != nil {
		return o, nil, err
	}
	return o, append(w.facts, feed.Fact{
		Aggregate: o.Name(), OccurTime: v.Time, Payload: &inventoryv1.WriteOffDecided{WriteOff: present.WriteOff(o, a.Unit)},
	}), nil
}

// WithdrawWriteOff takes a request back.
type WithdrawWriteOff struct {
	WriteOff uuid.UUID
	Reason   string
	Actor    string
	// Office is whether the actor is of the office, and Member whose login it is, as in DecideWriteOff.
	Office bool
	Member string
}

// WithdrawWriteOff takes a request back that nobody has decided.
func (a *App) WithdrawWriteOff(ctx context.Context, tx pgx.Tx, c WithdrawWriteOff) (lots.WriteOff, []feed.Fact, error) {
	w := a.work(ctx, tx, c.Actor)
	o, err := w.requested(c.WriteOff)
	if err != nil {
		return o, nil, err
	}
	interested, err := w.interested(o.Place, c.Member)
	if err != nil {
		return o, nil, err
	}
	if err := o.MayWithdraw(c.Actor, c.Office, interested); err != nil {
		return o, nil, err
	}
	o.Decided = &lots.Verdict{Reason: c.Reason, Decider: c.Actor, Time: a.now(), Withdrawn: true}
	if err := a.Lots.AddVerdict(ctx, tx, o); err != nil {
		return o, nil, err
	}
	return o, []feed.Fact{{Aggregate: o.Name(), OccurTime: o.Decided.Time, Payload: &inventoryv1.WriteOffWithdrawn{WriteOff: present.WriteOff(o, a.Unit)}}}, nil
}

// requested reads a request under the lock of its place, which is what all who decide about that place wait for.
func (w *work) requested(id uuid.UUID) (lots.WriteOff, error) {
	// The place of a request never changes, so it may be read before it is locked.
	o, err := w.Lots.WriteOff(w.ctx, w.tx, id)
	if err != nil {
		return o, err
	}
	if err := w.lock(o.Place); err != nil {
		return o, err
	}
	return w.Lots.WriteOff(w.ctx, w.tx, id)
}

// interested tells whether honey of a member is in a place, in whatever traces.
func (w *work) interested(place lots.Place, member string) (bool, error) {
	if member == "" {
		return false, nil
	}
	made, err := w.madeOf(w.ctx, w.tx, place)
	if err != nil {
		return false, err
	}
	var barrels []uuid.UUID
	for _, p := range append(made, place) { // nothing was poured out of an untouched barrel, so that the book does not know it
		if p.Kind() == lots.Barrel {
			barrels = append(barrels, uuid.MustParse(p.ID()))
		}
	}
	return w.Stock.Owned(w.ctx, w.tx, barrels, member)
}

func (w *work) lock(p lots.Place) error {
	if p.Kind() != lots.Barrel {
		return w.Lots.LockPlaces(w.ctx, w.tx, p)
	}
	_, err := w.Stock.Lock(w.ctx, w.tx, uuid.MustParse(p.ID()))
	return err
}

// writeOff books what was asked for as lost, if as much is there.
func (w *work) writeOff(o lots.WriteOff) (lots.Transfer, error) {
	c := missing(o)
	from, err := w.losable(c)
	if err != nil {
		return lots.Transfer{}, err
	}
	if err := o.StillMissing(from.mass, from.loose, from.called, w.Unit); err != nil {
		return lots.Transfer{}, err
	}
	return w.lose(c, from)
}
