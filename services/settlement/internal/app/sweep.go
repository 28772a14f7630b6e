package app

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain"
)

const (
	usualAtOnce = 15_000
	// sweepAgain is how long to wait after a sweep that failed.
	sweepAgain = 5 * time.Second
)

// priceSome prices waiting barrels after a key, and gives the key to go on from; the zero key is the end. The gate must be
// held.
func (a *App) priceSome(ctx context.Context, tx pgx.Tx, cropYear int, after domain.AgeKey) ([]feed.Fact, domain.AgeKey, error) {
	limit := a.AtOnce
	if limit == 0 {
		limit = usualAtOnce
	}
	// Thousands of barrels are priced between two statements.
	if err := a.Store.Patient(ctx, tx); err != nil {
		return nil, domain.AgeKey{}, err
	}
	waiting, err := a.Store.Waiting(ctx, tx, cropYear, after, limit)
	if err != nil {
		return nil, domain.AgeKey{}, err
	}
	facts, err := a.act(ctx, tx, waiting)
	if err != nil || len(waiting) < limit {
		return facts, domain.AgeKey{}, err
	}
	last := waiting[limit-1].Barrel
	return facts, domain.AgeKey{Date: last.Date, Barrel: last.Barrel}, nil
}

// Sweep prices every barrel that could be priced and is not: those beyond AtOnce after an adoption, also where the process
// ended in between. Doing it again changes nothing.
func (a *App) Sweep(ctx context.Context) error {
	schedules, err := a.Store.AdoptedSchedules(ctx, a.DB.Pool())
	if err != nil {
		return err
	}
	done := map[int]bool{}
	for _, s := range schedules {
		if done[s.CropYear] {
			continue
		}
		done[s.CropYear] = true
		if err := a.sweepYear(ctx, s.CropYear); err != nil {
			return fmt.Errorf("price what waits of crop year %d: %w", s.CropYear, err)
		}
	}
	return nil
}

func (a *App) sweepYear(ctx context.Context, cropYear int) error {
	for after := (domain.AgeKey{}); ; {
		var next domain.AgeKey
		var facts []feed.Fact
		err := a.DB.InTx(ctx, func(ctx context.Context, tx pgx.Tx) (err error) {
			if err := a.Store.LockGate(ctx, tx); err != nil {
				return err
			}
			if facts, next, err = a.priceSome(ctx, tx, cropYear, after); err != nil {
				return err
			}
			return feed.Append(ctx, tx, a.Clock.Now(), feed.Meta{Actor: a.DB.Schema()}, facts...)
		})
		if err != nil {
			return err
		}
		if len(facts) > 0 {
			feed.Announce(a.DB)
		}
		if next == (domain.AgeKey{}) {
			return nil
		}
		after = next
	}
}

// adoptedChannel is where an adoption that left barrels unpriced is announced.
func adoptedChannel(db *pg.DB) string { return "adopted_" + db.Schema() }

// KeepSweeping sweeps at the start, and after each adoption that left barrels for it, until ctx ends.
func (a *App) KeepSweeping(ctx context.Context, failed func(error)) error {
	for {
		bell := a.DB.Bell(adoptedChannel(a.DB))
		var again <-chan time.Time
		if err := a.Sweep(ctx); err != nil && ctx.Err() == nil {
			failed(err)
			again = time.After(sweepAgain)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-bell:
		case <-again:
		}
	}
}
