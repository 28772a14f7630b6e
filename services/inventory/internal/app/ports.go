// Package app holds the commands and queries of the warehouse: load, decide, save, report facts.
package app

import (
	"context"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
)

// App runs commands and queries.
type App struct {
	DB       *pg.DB
	Clock    clock.Clock
	Unit     quantity.Unit
	Currency string
	Stock    Stock
	Lots     Lots
	// Site starts the lot codes, and Zone decides the day in them.
	Site string
	Zone *time.Location
	// Prefix is the company prefix of GS1 the codes of pallets are made with, 7 to 9 digits; empty makes none.
	Prefix string

	planning  chan struct{} // a place for the one plan worked on
	genealogy genealogy
}

// Ready prepares an App whose fields are filled in.
func (a *App) Ready() *App {
	a.planning = make(chan struct{}, 1)
	return a
}

// Filter selects barrels on hand, or those named by barrel or tag, on hand or not; zero values select all.
type Filter struct {
	Variety    string
	CropYear   int32
	ColorClass string
	Grade      string
	Location   string
	HeldOnly   bool
	Barrels    []uuid.UUID
	DrumTags   []string
}

// StockKey is the place of a barrel in the list.
type StockKey struct {
	ReceiveDate string    `json:"d"`
	Barrel      uuid.UUID `json:"b"`
}

// HoldKey is the place of a hold in the list.
type HoldKey struct {
	Time time.Time `json:"t"`
	ID   uuid.UUID `json:"i"`
}

// Total is what is on hand of one kind.
type Total struct {
	Variety    string
	CropYear   int32
	ColorClass string
	Grade      string
	Barrels    int32
	Held       int32
	Net        quantity.Mass
}

// Stock is where barrels, moves and holds are kept.
type Stock interface {
	// Item reads one barrel: *stock.NotFoundError if its ticket has not closed.
	Item(ctx context.Context, q pg.Querier, barrel uuid.UUID) (stock.Item, error)
	// Barrels reads several; those that are not known are left out.
	Barrels(ctx context.Context, q pg.Querier, barrels []uuid.UUID) ([]stock.Item, error)
	// DrawnFrom finds the barrels of blind samples; one that is not known yet is left out.
	DrawnFrom(ctx context.Context, q pg.Querier, samples []string) (map[string]uuid.UUID, error)
	// Owned reports whether a member owns any of some barrels, or has a share in it.
	Owned(ctx context.Context, q pg.Querier, barrels []uuid.UUID, member string) (bool, error)
	// Lock reads one barrel and keeps every other move and hold of it waiting until the transaction ends.
	Lock(ctx context.Context, q pg.Querier, barrel uuid.UUID) (stock.Item, error)
	// Items lists at most limit barrels after a key, oldest delivery first; 0 is no limit.
	Items(ctx context.Context, q pg.Querier, f Filter, after *StockKey, limit int) ([]stock.Item, error)
	Totals(ctx context.Context, q pg.Querier) ([]Total, error)
	AddMovement(ctx context.Context, q pg.Querier, m stock.Movement) error
	// Movements lists the moves of one barrel with a number above after.
	Movements(ctx context.Context, q pg.Querier, barrel uuid.UUID, after int64, limit int) ([]stock.Movement, error)
	// AddHold reports false when the same hold is there already.
	AddHold(ctx context.Context, q pg.Querier, h stock.Hold) (bool, error)
	AddRelease(ctx context.Context, q pg.Querier, h stock.Hold) error
	// LockFlow keeps honey from moving anywhere until the transaction ends. It comes before every other lock.
	LockFlow(ctx context.Context, q pg.Querier) error
	// OpenSpread lists the open holds that follow from one.
	OpenSpread(ctx context.Context, q pg.Querier, cause uuid.UUID) ([]stock.Hold, error)
	// Hold reads one hold: *stock.NotFoundError.
	Hold(ctx context.Context, q pg.Querier, id uuid.UUID) (stock.Hold, error)
	// Holds lists at most limit holds after a key, newest first.
	Holds(ctx context.Context, q pg.Querier, openOnly bool, after *HoldKey, limit int) ([]stock.Hold, error)
}
