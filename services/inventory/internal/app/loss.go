package app

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/quantity"
)

// RecordLoss books honey that is gone: a mass, or jars of a closed lot.
type RecordLoss struct {
	From   lots.Place
	Code   string
	Mass   quantity.Mass
	Jars   int64
	Reason string
	Actor  string
}

// RecordLoss records it.
func (a *App) RecordLoss(ctx context.Context, tx pgx.Tx, c RecordLoss) (lots.Transfer, []feed.Fact, error) {
	w := a.work(ctx, tx, c.Actor)
	id, err := uuid.Parse(c.From.ID())
	if err != nil {
		return lots.Transfer{}, nil, &stock.NotFoundError{Resource: string(c.From)}
	}
	if c.Jars > 0 {
		t, err := w.loseJars(id, c)
		return t, w.facts, err
	}
	if err := w.losable(id, c); err != nil {
		return lots.Transfer{}, nil, err
	}
	t, err := w.pour(c.From, lots.At(lots.Loss, c.Code), c.Mass, c.Reason)
	return t, w.facts, err
}

// losable locks the place and checks that it has what is lost. A hold does not undo a loss: a leaking drum leaks.
func (w *work) losable(id uuid.UUID, c RecordLoss) error {
	switch c.From.Kind() {
	case lots.Barrel:
		item, err := w.Stock.Lock(w.ctx, w.tx, id)
		if err != nil {
			return err
		}
		if err := lots.LosableBarrel(item, c.Code); err != nil {
			return err //nolint:wrapcheck // says which hold
		}
		return enough(c.From, item.Remaining(), c.Mass)
	case lots.Charge:
		f, err := w.openCharge(id)
		if err != nil {
			return err
		}
		return enough(c.From, f.Content, c.Mass)
	case lots.Pack:
		r, err := w.run(id)
		if err != nil {
			return err
		}
		if r.Closed {
			return &lots.ClosedError{Place: c.From}
		}
		return enough(c.From, r.Content, c.Mass)
	default:
		return &stock.NotFoundError{Resource: string(c.From)}
	}
}

// loseJars takes jars that stand on no pallet off a closed lot.
func (w *work) loseJars(id uuid.UUID, c RecordLoss) (lots.Transfer, error) {
	if c.From.Kind() != lots.Pack {
		return lots.Transfer{}, &stock.NotFoundError{Resource: string(c.From)}
	}
	if err := w.Lots.LockPlaces(w.ctx, w.tx, c.From); err != nil {
		return lots.Transfer{}, err
	}
	r, loose, err := w.loose(id)
	if err != nil {
		return lots.Transfer{}, err
	}
	if err := r.Lose(c.Code, c.Jars, loose); err != nil {
		return lots.Transfer{}, err
	}
	mass, err := r.Take(c.Jars)
	if err != nil {
		return lots.Transfer{}, err
	}
	if err := w.Lots.TakeJars(w.ctx, w.tx, id, c.Jars); err != nil {
		return lots.Transfer{}, err
	}
	t, err := w.pour(c.From, lots.At(lots.Loss, c.Code), mass, c.Reason)
	if err != nil {
		return t, err
	}
	return t, w.Lots.AddJarLoss(w.ctx, w.tx, t.ID, id, c.Jars)
}
