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

// RecordLoss records it, unless it takes two people.
func (a *App) RecordLoss(ctx context.Context, tx pgx.Tx, c RecordLoss) (lots.Transfer, []feed.Fact, error) {
	if err := lots.BookedAlone(c.Code); err != nil {
		return lots.Transfer{}, nil, err
	}
	w := a.work(ctx, tx, c.Actor)
	there, err := w.losable(c)
	if err != nil {
		return lots.Transfer{}, nil, err
	}
	t, err := w.lose(c, there)
	return t, w.facts, err
}

// there is what a locked place holds that could be lost.
type there struct {
	// called is what people call the place.
	called string
	mass   quantity.Mass
	// run and loose are the lot that jars are lost of, and its jars that stand on no pallet.
	run   lots.Run
	loose int64
}

// losable locks the place and tells what it has, if that can be lost so. A hold does not undo a loss: a leaking drum leaks.
func (w *work) losable(c RecordLoss) (there, error) {
	id, err := uuid.Parse(c.From.ID())
	if err != nil {
		return there{}, &stock.NotFoundError{Resource: string(c.From)}
	}
	if c.Jars > 0 {
		return w.losableJars(id, c)
	}
	switch c.From.Kind() {
	case lots.Barrel:
		item, err := w.Stock.Lock(w.ctx, w.tx, id)
		if err != nil {
			return there{}, err
		}
		return there{called: item.Called(), mass: item.Remaining()}, lots.LosableBarrel(item, c.Code)
	case lots.Charge:
		f, err := w.openCharge(id)
		return there{called: f.Called(), mass: f.Content}, err
	case lots.Pack:
		r, err := w.run(id)
		if err == nil && r.Closed {
			err = &lots.ClosedError{Place: c.From, Called: r.Called()}
		}
		return there{called: r.Called(), mass: r.Content}, err
	default:
		return there{}, &stock.NotFoundError{Resource: string(c.From)}
	}
}

func (w *work) losableJars(id uuid.UUID, c RecordLoss) (there, error) {
	if c.From.Kind() != lots.Pack {
		return there{}, &stock.NotFoundError{Resource: string(c.From)}
	}
	if err := w.Lots.LockPlaces(w.ctx, w.tx, c.From); err != nil {
		return there{}, err
	}
	r, loose, err := w.loose(id)
	if err != nil {
		return there{}, err
	}
	return there{called: r.Called(), mass: r.Content, run: r, loose: loose}, r.Lose(c.Code, c.Jars, loose)
}

// lose takes a mass, or jars that stand on no pallet, from where they are.
func (w *work) lose(c RecordLoss, from there) (lots.Transfer, error) {
	to := lots.At(lots.Loss, c.Code)
	if c.Jars == 0 {
		if err := w.enough(c.From, from.called, from.mass, c.Mass); err != nil {
			return lots.Transfer{}, err
		}
		return w.pour(c.From, to, c.Mass, c.Reason)
	}
	mass, err := from.run.Take(c.Jars)
	if err != nil {
		return lots.Transfer{}, err
	}
	if err := w.Lots.TakeJars(w.ctx, w.tx, from.run.ID, c.Jars); err != nil {
		return lots.Transfer{}, err
	}
	t, err := w.pour(c.From, to, mass, c.Reason)
	if err != nil {
		return t, err
	}
	return t, w.Lots.AddJarLoss(w.ctx, w.tx, t.ID, from.run.ID, c.Jars)
}
