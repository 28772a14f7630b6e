package idem

import (
	"context"
	"errors"
	"fmt"

	"github.com/jackc/pgx/v5"
	"google.golang.org/protobuf/proto"

	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// Plan is a change decided on and not yet made.
type Plan[R proto.Message] struct {
	// Answer is what the caller will be told once the change is committed.
	Answer R
	// Facts are recorded with the change.
	Facts []feed.Fact
	// Key is the aggregate whose rows Write touches; see pg.DB.Share.
	Key string
	// Write queues the change. A statement that depends on what was read guards itself: its callback returns pg.ErrStale
	// when the row is not as it was read, and the decision is taken anew.
	Write func(b *pgx.Batch)
}

// mostDecisions bounds how often a change is decided anew.
const mostDecisions = 5

// DoShared is Do for hot paths: the change is decided from reads outside a transaction, and its statements are committed
// together with those of other callers (pg.DB.Share). decide may run several times and must change nothing.
//
// Errors: those of Do; pg.ErrConflict when the aggregate kept changing.
func DoShared[R proto.Message](ctx context.Context, db *pg.DB, clk clock.Clock, req Request,
	decide func(ctx context.Context) (Plan[R], error),
) (R, error) {
	var none R
	c, err := newCall(ctx, db.Schema(), req)
	if err != nil {
		return none, err
	}
	for range mostDecisions {
		plan, err := decide(ctx)
		if err != nil {
			return repeated(ctx, db, c, none, err)
		}
		err = share(ctx, db, clk, c, plan)
		switch {
		case err == nil:
			if len(plan.Facts) > 0 {
				feed.Announce(db)
			}
			return plan.Answer, nil
		case errors.Is(err, pg.ErrStale):
			continue
		default:
			// A repeat may fail on something the first call changed, before the ledger shows that it is a repeat.
			return repeated(ctx, db, c, none, err)
		}
	}
	return repeated(ctx, db, c, none, fmt.Errorf("%w (%d decisions)", pg.ErrConflict, mostDecisions))
}

// share queues the ledger first, so that a repeat fails there and not on what the first call changed.
func share[R proto.Message](ctx context.Context, db *pg.DB, clk clock.Clock, c *call, plan Plan[R]) error {
	// What cannot be encoded must be known before anything is sent, so both are made here; queueing them only copies.
	ledger, facts := &pgx.Batch{}, &pgx.Batch{}
	now := clk.Now()
	if err := errors.Join(c.record(ledger, now, plan.Answer), c.append(facts, now, plan.Facts)); err != nil {
		return err
	}
	return db.Share(ctx, plan.Key, func(b *pgx.Batch) {
		requeue(b, ledger)
		if plan.Write != nil {
			plan.Write(b)
		}
		requeue(b, facts)
	})
}

// requeue makes new entries each time, because sending a batch leaves its marks on them.
func requeue(b, from *pgx.Batch) {
	for _, query := range from.QueuedQueries {
		b.Queue(query.SQL, query.Arguments...)
	}
}

// repeated answers with the first answer where the ledger has one, else with the failure.
func repeated[R proto.Message](ctx context.Context, db *pg.DB, c *call, none R, failure error) (R, error) {
	if err := c.lookIn(ctx, db); err != nil {
		return none, errors.Join(failure, err)
	}
	if c.stored == nil {
		return none, failure
	}
	return replay[R](c)
}
