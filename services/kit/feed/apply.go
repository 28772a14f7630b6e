package feed

import (
	"context"
	"fmt"
	"runtime/debug"

	"github.com/jackc/pgx/v5"
	"go.uber.org/zap"

	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	"barrelhead.example/services/kit/pg"
)

// apply takes in a page in one transaction. Where that fails for good, it halves the page until the failing event is
// alone, so that everything before it is in and the halt names the right one. It does the same where an event must wait for
// another feed: that feed may in turn wait for what comes before.
func (c *Consumer) apply(ctx context.Context, answer *feedv1.WatchResponse, events []*feedv1.Event) error {
	err := c.applyOnce(ctx, answer, events)
	switch {
	case err == nil || len(events) == 0 || ctx.Err() != nil || overtaken(err):
		return err
	case transient(err) && (!notYet(err) || len(events) == 1):
		return err
	case len(events) == 1:
		return c.poison(ctx, answer, events, err)
	}
	c.Log.Warn("a page cannot be applied, looking for the event", zap.String("consumer", c.Name), zap.Int("events", len(events)), zap.Error(err))
	half := len(events) / 2
	if err := c.apply(ctx, answer, events[:half]); err != nil {
		return err
	}
	return c.apply(ctx, answer, events[half:])
}

// haltedError ends the stream after a halt; the next round waits for the operator.
type haltedError struct {
	sequence int64
	cause    error
}

func (e *haltedError) Error() string {
	return fmt.Sprintf("halted at event %d: %v", e.sequence, e.cause)
}
func (e *haltedError) Unwrap() error { return e.cause }

// poison tries the one failing event a few more times, since not every lasting failure lasts, and then halts.
func (c *Consumer) poison(ctx context.Context, answer *feedv1.WatchResponse, events []*feedv1.Event, err error) error {
	pause := c.FirstPause / 4
	for attempt := 1; attempt < poisonAttempts; attempt++ {
		if !c.sleep(ctx, pause) {
			return ctx.Err()
		}
		if err = c.applyOnce(ctx, answer, events); err == nil || transient(err) || overtaken(err) {
			return err
		}
		pause *= 2
	}
	sequence := events[0].GetSequence()
	if haltErr := c.halt(ctx, sequence, err); haltErr != nil {
		return haltErr
	}
	return &haltedError{sequence, err}
}

// applyOnce is one transaction: lock the cursor, apply, move the cursor, record our own facts.
func (c *Consumer) applyOnce(ctx context.Context, answer *feedv1.WatchResponse, events []*feedv1.Event) error {
	var cur cursor
	var facts []caused
	err := c.DB.InSteps(ctx, pg.Steps{
		Open: func(b *pgx.Batch) {
			b.Queue(lockCursor, c.Name).QueryRow(func(row pgx.Row) (err error) {
				cur, err = scanCursor(row)
				return err
			})
		},
		Do: func(ctx context.Context, tx pgx.Tx, closing *pgx.Batch) (err error) {
			due, err := c.due(cur, answer, events)
			if err != nil {
				return err
			}
			if facts, err = c.applyEvents(ctx, tx, due); err != nil {
				return err
			}
			now := c.Clock.Now()
			if through := lastSequence(answer, events); through >= cur.sequence {
				closing.Queue(moveCursor, c.Name, answer.GetLogId(), through, answer.GetHeadSequence(), now)
			}
			return queue(closing, now, facts)
		},
	})
	if err == nil && len(facts) > 0 {
		Announce(c.DB)
	}
	return err
}

func lastSequence(answer *feedv1.WatchResponse, events []*feedv1.Event) int64 {
	if len(events) == 0 {
		return answer.GetThroughSequence()
	}
	return events[len(events)-1].GetSequence()
}

// due is what the locked cursor has not seen: another replica may have been faster, or an operator may have stepped in.
func (c *Consumer) due(cur cursor, answer *feedv1.WatchResponse, events []*feedv1.Event) ([]*feedv1.Event, error) {
	if cur.haltedSequence != nil {
		return nil, &haltedError{*cur.haltedSequence, errHaltedElsewhere}
	}
	if cur.logID != "" && cur.logID != answer.GetLogId() {
		return nil, errMoved
	}
	for len(events) > 0 && events[0].GetSequence() <= cur.sequence {
		events = events[1:]
	}
	if len(events) > 0 && events[0].GetSequence() != cur.sequence+1 {
		return nil, errMoved
	}
	return events, nil
}

func (c *Consumer) applyEvents(ctx context.Context, tx pgx.Tx, events []*feedv1.Event) ([]caused, error) {
	var all []caused
	for _, p := range events {
		facts, err := c.applyEvent(ctx, tx, p)
		if err != nil {
			return nil, fmt.Errorf("apply event %d of %s: %w", p.GetSequence(), c.Source, err)
		}
		for _, fact := range facts {
			all = append(all, caused{fact, Meta{Actor: c.DB.Schema(), RequestID: p.GetRequestId()}})
		}
	}
	return all, nil
}

// applyEvent turns a panic into an ordinary lasting failure: one bad event must halt its source, not the service.
func (c *Consumer) applyEvent(ctx context.Context, tx pgx.Tx, p *feedv1.Event) (facts []Fact, err error) {
	defer func() {
		if r := recover(); r != nil {
			c.Log.Error("panic while applying an event", zap.String("consumer", c.Name), zap.Any("panic", r), zap.ByteString("stack", debug.Stack()))
			err = fmt.Errorf("panic: %v", r)
		}
	}()
	ev, known, err := decode(p)
	if err != nil || !known {
		return nil, err
	}
	return c.Apply(ctx, tx, ev)
}
