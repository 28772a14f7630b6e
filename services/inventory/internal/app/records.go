package app

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/drill"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// Records is where drills and counts are kept, and what happened when is read.
type Records interface {
	AddDrill(ctx context.Context, q pg.Querier, d drill.Drill) error
	// LockDrill keeps others from finishing it.
	LockDrill(ctx context.Context, q pg.Querier, id uuid.UUID) (drill.Drill, error)
	FinishDrill(ctx context.Context, q pg.Querier, d drill.Drill) error
	Drills(ctx context.Context, q pg.Querier, before int64, limit int) ([]drill.Drill, error)

	// Tagged finds the barrels on hand under tags, and those booked at a location.
	Tagged(ctx context.Context, q pg.Querier, tags []string, location string) ([]stock.Item, error)
	AddCount(ctx context.Context, q pg.Querier, c stock.Count) error
	Counts(ctx context.Context, q pg.Querier, before int64, limit int) ([]stock.Count, error)

	// Balances lists those numbered below before, newest first.
	Balances(ctx context.Context, q pg.Querier, by string, zone *time.Location, before int64, limit int) ([]lots.Balance, error)

	// TraceEvents lists what happened from one moment until before another, after a key.
	TraceEvents(ctx context.Context, q pg.Querier, from, until time.Time, after EventKey, limit int) ([]TraceEvent, error)
}

// EventKey is the place of an event in the list.
type EventKey struct {
	Time time.Time `json:"t"`
	Name string    `json:"n"`
}

// TraceEvent is one thing that happened to honey; what does not apply is empty.
type TraceEvent struct {
	EventKey
	Kind, From, To, Subject string
	Mass, Jars              int64
	LotCode, GTIN, Customer string
	SSCC, HoldCode, Ticket  string
	StillHeld               bool
	// Charges are the codes of the charges among From, To and Subject.
	Charges []string
}

// longestRecount is how many transfers a drill counts a second time; more would keep people waiting.
const longestRecount = 100_000

// Drill traces a place both ways and counts the answer a second time from the records. It is done before the drill is saved: a snapshot
// within the transaction takes a second connection, and drills that hold one each would wait for one another.
func (a *App) Drill(ctx context.Context, place lots.Place) (drill.Drill, error) {
	d := drill.Drill{ID: uuid.New(), Subject: place}
	began := a.Clock.Now()
	err := a.DB.InSnapshot(ctx, func(ctx context.Context, snapshot pgx.Tx) error {
		trace, err := a.follow(ctx, snapshot, place)
		if err != nil {
			return fmt.Errorf("trace %s: %w", place, err)
		}
		d.Milliseconds = a.Clock.Now().Sub(began).Milliseconds()
		t := Traced{Trace: trace}
		if err := a.explain(ctx, snapshot, &t); err != nil {
			return err
		}
		d.Answer(trace, len(t.Shipments), members(t.Barrels))
		if len(trace.Transfers) > longestRecount {
			return nil
		}
		again, err := a.recount(ctx, snapshot, place)
		if err != nil {
			return fmt.Errorf("count %s again: %w", place, err)
		}
		return d.Recount(trace, again)
	})
	return d, err
}

// StartDrill saves a drill and starts its stopwatch.
func (a *App) StartDrill(ctx context.Context, tx pgx.Tx, d drill.Drill, actor string) (drill.Drill, []feed.Fact, error) {
	d.Starter, d.StartTime = actor, a.now()
	return d, nil, a.Lots.AddDrill(ctx, tx, d)
}

func members(barrels map[lots.Place]stock.Item) int {
	seen := map[string]bool{}
	for _, b := range barrels {
		seen[b.Member] = true
	}
	return len(seen)
}

// FinishDrill stops the stopwatch.
func (a *App) FinishDrill(ctx context.Context, tx pgx.Tx, id uuid.UUID, f drill.Finish) (drill.Drill, []feed.Fact, error) {
	d, err := a.Lots.LockDrill(ctx, tx, id)
	if err != nil {
		return d, nil, err
	}
	f.Time = a.now()
	if d, err = d.End(f); err != nil {
		return d, nil, err
	}
	if err := a.Lots.FinishDrill(ctx, tx, d); err != nil {
		return d, nil, err
	}
	return d, []feed.Fact{{
		Aggregate: d.Name(), OccurTime: f.Time, Payload: &inventoryv1.RecallDrillFinished{Drill: present.Drill(d, a.Unit)},
	}}, nil
}

// Count compares a location with the books.
func (a *App) Count(ctx context.Context, tx pgx.Tx, location string, tags []string, actor string) (stock.Count, []feed.Fact, error) {
	items, err := a.Lots.Tagged(ctx, tx, tags, location)
	if err != nil {
		return stock.Count{}, nil, err
	}
	c := stock.Compare(location, tags, items)
	c.ID, c.Counter, c.Time = uuid.New(), actor, a.now()
	if err := a.Lots.AddCount(ctx, tx, c); err != nil {
		return c, nil, err
	}
	return c, []feed.Fact{{Aggregate: c.Name(), OccurTime: c.Time, Payload: &inventoryv1.StockCounted{Count: present.Count(c)}}}, nil
}
