package app

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"sync"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/kit/pg"
)

// genealogy is the ledger kept in memory. The records are the truth: before every answer it takes in what was committed since,
// so that it answers what the database would, whoever else writes.
type genealogy struct {
	sync.Mutex
	book *lots.Book
	// known is the last transfer taken in; if the records do not have it, they are not the ones the book was made of.
	known     int64
	knownID   uuid.UUID
	highest   int64
	undecided map[int64]time.Time // numbers below highest that were not there, and when that was first seen
}

// News is what the ledger has that a book has not.
type News struct {
	// KnownID is the id of the transfer the book named as its last; zero if there is none.
	KnownID uuid.UUID
	// Transfers are by number, without actor, time and reason.
	Transfers []lots.Transfer
	// Own tells for each whether it is of the transaction that asks.
	Own []bool
}

// longestTransaction is far more than the timeouts of the service's role leave a transaction. A number that is still missing
// after it was rolled back.
const longestTransaction = time.Hour

func (g *genealogy) reset() {
	g.book, g.known, g.knownID, g.highest, g.undecided = lots.NewBook(), 0, uuid.Nil, 0, map[int64]time.Time{}
}

// refresh takes in what was committed since. It returns what the asking transaction itself did, which is not in the book: it
// may yet be rolled back. The lock must be held, and must have been taken before the snapshot of q.
//
// A ledger that is long in coming is taken in page by page: what was taken in before a caller gave up need not be read again.
func (g *genealogy) refresh(ctx context.Context, q pg.Querier, from Lots, now time.Time) (own []lots.Transfer, err error) {
	if g.book == nil {
		g.reset()
	}
	for {
		news, err := from.News(ctx, q, g.highest, slices.Collect(maps.Keys(g.undecided)), g.known)
		if err != nil {
			return nil, err
		}
		if news.KnownID != g.knownID {
			g.reset() // the records were restored from elsewhere
			continue
		}
		own = nil // what is undecided, its own among it, came again
		for i, t := range news.Transfers {
			if news.Own[i] {
				own = append(own, t)
			}
			if err := g.take(t, news.Own[i], now); err != nil {
				g.book = nil // half of a transfer is no book
				return nil, err
			}
		}
		if len(news.Transfers) < NewsPage {
			maps.DeleteFunc(g.undecided, func(_ int64, since time.Time) bool { return now.Sub(since) > longestTransaction })
			return own, nil
		}
	}
}

// NewsPage is how many transfers above the highest are read at a time.
const NewsPage = 20_000

func (g *genealogy) take(t lots.Transfer, own bool, now time.Time) error {
	for n := g.highest + 1; n < t.Number; n++ {
		g.undecided[n] = now
	}
	g.highest = max(g.highest, t.Number)
	if own {
		g.undecided[t.Number] = now
		return nil
	}
	delete(g.undecided, t.Number)
	g.known, g.knownID = t.Number, t.ID
	return g.book.Add(t) //nolint:wrapcheck // says which transfer
}

// content is what is in a charge or lot by the books, the asking transaction included.
func (a *App) content(ctx context.Context, q pg.Querier, place lots.Place) ([]lots.Part, error) {
	a.genealogy.Lock()
	defer a.genealogy.Unlock()
	own, err := a.genealogy.refresh(ctx, q, a.Lots, a.now())
	if err != nil {
		return nil, err
	}
	parts, err := a.genealogy.book.Content(place, own)
	if err != nil {
		return nil, fmt.Errorf("what is in %s: %w", place, err)
	}
	return parts, nil
}

// WarmUp reads the ledger, so that the first trace after a start does not wait for it.
func (a *App) WarmUp(ctx context.Context) error {
	return a.DB.InSnapshot(ctx, func(ctx context.Context, tx pgx.Tx) error {
		a.genealogy.Lock()
		defer a.genealogy.Unlock()
		_, err := a.genealogy.refresh(ctx, tx, a.Lots, a.now())
		return err
	})
}
