package app

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/line"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// Packing is where clearances, checks of running lots and pallets are kept.
type Packing interface {
	// LockLine keeps others from clearing a line or starting a lot on it, and answers what it did last.
	LockLine(ctx context.Context, q pg.Querier, name string) (line.Before, error)
	AddClearance(ctx context.Context, q pg.Querier, c line.Clearance) error
	Clearances(ctx context.Context, q pg.Querier, before int64, limit int) ([]line.Clearance, error)

	AddLineCheck(ctx context.Context, q pg.Querier, c line.Check) error
	// LineChecks lists those of a lot, oldest first.
	LineChecks(ctx context.Context, q pg.Querier, run uuid.UUID) ([]line.Check, error)

	// AddPallet sets the number and the code of the pallet.
	AddPallet(ctx context.Context, q pg.Querier, p *lots.Pallet, prefix string) error
	Pallet(ctx context.Context, q pg.Querier, idOrCode string) (lots.Pallet, error)
	Pallets(ctx context.Context, q pg.Querier, f PalletFilter, before int64, limit int) ([]lots.Pallet, error)
	BreakPallet(ctx context.Context, q pg.Querier, p lots.Pallet, b stock.Release) error
	// Stacked counts the jars of a lot that stand on pallets in the house.
	Stacked(ctx context.Context, q pg.Querier, run uuid.UUID) (int64, error)
}

// PalletFilter selects pallets; zero values select all.
type PalletFilter struct {
	InHouse bool
	Lot     uuid.UUID
}

// ClearLine is a line that was looked over.
type ClearLine struct{ Line, Cleaning, Actor string }

// ClearLine records it.
func (a *App) ClearLine(ctx context.Context, tx pgx.Tx, c ClearLine) (line.Clearance, []feed.Fact, error) {
	before, err := a.Lots.LockLine(ctx, tx, c.Line)
	if err != nil {
		return line.Clearance{}, nil, err
	}
	made := line.Clearance{ID: uuid.New(), Line: c.Line, After: before.LotCode, Cleaning: c.Cleaning, Clearer: c.Actor, Time: a.now()}
	if err := a.Lots.AddClearance(ctx, tx, made); err != nil {
		return made, nil, err
	}
	return made, []feed.Fact{{Aggregate: made.Name(), OccurTime: made.Time, Payload: &inventoryv1.LineCleared{Clearance: present.Clearance(made)}}}, nil
}

// cleared fails while a line shows what is left of the lot before.
func (w *work) cleared(name string) error {
	before, err := w.Lots.LockLine(w.ctx, w.tx, name)
	if err != nil {
		return err
	}
	return line.Ready(name, before) //nolint:wrapcheck // says what to do
}

// CheckLine is a few jars of a run.
type CheckLine struct {
	Run   uuid.UUID
	Check line.Check
	Actor string
}

// CheckLine judges and records them. A run that is stopped is held: nothing more is drawn into it until somebody else looked.
func (a *App) CheckLine(ctx context.Context, tx pgx.Tx, c CheckLine) (line.Check, []feed.Fact, error) {
	w := a.work(ctx, tx, c.Actor)
	if err := a.Stock.LockFlow(ctx, tx); err != nil {
		return c.Check, nil, err
	}
	r, err := w.run(c.Run)
	if err != nil {
		return c.Check, nil, err
	}
	if r.Closed {
		return c.Check, nil, &lots.ClosedError{Place: r.Place(), Called: r.Called()}
	}
	check := c.Check
	check.ID, check.Run, check.Checker, check.Time = uuid.New(), r.ID, c.Actor, a.now()
	l, err := a.Lots.Label(ctx, tx, r.Label)
	if err != nil {
		return check, nil, err
	}
	if check.Declared, err = line.Declared(l, check.Unit); err != nil {
		return check, nil, err //nolint:wrapcheck // says which label
	}
	check = check.Judge()
	if err := a.Lots.AddLineCheck(ctx, tx, check); err != nil {
		return check, nil, err
	}
	facts := []feed.Fact{{Aggregate: string(r.Place()), OccurTime: check.Time, Payload: &inventoryv1.LineChecked{Check: present.LineCheck(check)}}}
	if !check.Stopped {
		return check, facts, nil
	}
	held, err := a.AddHold(ctx, tx, stock.Hold{
		ID: uuid.NewSHA1(check.ID, []byte("stopped")), Kind: stock.OfLot, Barrel: r.ID, Code: stock.Quality,
		Reason: "run stopped: " + check.Sentence, Placer: stock.House, Time: check.Time,
	})
	return check, append(facts, held...), err
}

// LineChecks lists the checks of a run.
func (a *App) LineChecks(ctx context.Context, run uuid.UUID) ([]line.Check, error) {
	if _, err := a.Lots.Run(ctx, a.DB.Pool(), run); err != nil {
		return nil, err
	}
	return a.Lots.LineChecks(ctx, a.DB.Pool(), run)
}
