package app

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/domain/blend"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
)

// Traced is the answer to a recall.
type Traced struct {
	*lots.Trace
	// Barrels are the delivered ones among the sources, by place.
	Barrels map[lots.Place]stock.Item
	// Shipments are those honey went out with, by place.
	Shipments map[lots.Place]Shipment
}

// Trace follows one place both ways.
func (a *App) Trace(ctx context.Context, place lots.Place) (t Traced, err error) {
	err = a.DB.InSnapshot(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if err := a.exists(ctx, tx, place); err != nil {
			return err
		}
		trace, barrels, err := a.follow(ctx, tx, place, true)
		if err != nil {
			return fmt.Errorf("trace %s: %w", place, err)
		}
		t = Traced{Trace: trace, Barrels: barrels, Shipments: map[lots.Place]Shipment{}}
		for _, end := range trace.Ends {
			if end.Place.Kind() != lots.Shipment {
				continue
			}
			if t.Shipments[end.Place], err = a.Lots.Shipment(ctx, tx, uuid.MustParse(end.Place.ID())); err != nil {
				return err
			}
		}
		return nil
	})
	return t, err
}

func (a *App) exists(ctx context.Context, q pg.Querier, place lots.Place) (err error) {
	id, err := uuid.Parse(place.ID())
	if err != nil {
		return &stock.NotFoundError{Resource: string(place)}
	}
	switch place.Kind() {
	case lots.Barrel:
		_, err = a.Stock.Item(ctx, q, id)
	case lots.Charge:
		_, err = a.Lots.Charge(ctx, q, id)
	case lots.Pack:
		_, err = a.Lots.Run(ctx, q, id)
	case lots.Shipment:
		_, err = a.Lots.Shipment(ctx, q, id)
	case lots.Loss:
		err = &stock.NotFoundError{Resource: string(place)}
	default:
		err = &stock.NotFoundError{Resource: string(place)}
	}
	return err
}

// follow replays what matters to a place. It also returns the delivered barrels that came up.
func (a *App) follow(ctx context.Context, q pg.Querier, place lots.Place, onward bool) (*lots.Trace, map[lots.Place]stock.Item, error) {
	transfers, err := a.Lots.Ledger(ctx, q, place, onward)
	if err != nil {
		return nil, nil, err
	}
	var ids []uuid.UUID
	for _, p := range append(barrelsOf(transfers), place) {
		if p.Kind() == lots.Barrel {
			ids = append(ids, uuid.MustParse(p.ID()))
		}
	}
	items, err := a.Stock.Barrels(ctx, q, ids)
	if err != nil {
		return nil, nil, err
	}
	delivered, barrels := map[lots.Place]quantity.Mass{}, map[lots.Place]stock.Item{}
	for _, i := range items {
		if i.Parent != uuid.Nil {
			continue
		}
		p := lots.Of(lots.Barrel, i.Barrel)
		barrels[p] = i
		// A reissued ticket may say less than was used already; the difference is the office's to settle, and must not
		// stand in the way of a recall.
		delivered[p] = max(i.Net, i.Taken)
	}
	trace, err := lots.Follow(place, delivered, transfers)
	return trace, barrels, err
}

func barrelsOf(transfers []lots.Transfer) []lots.Place {
	var out []lots.Place
	seen := map[lots.Place]bool{}
	for _, t := range transfers {
		if t.From.Kind() == lots.Barrel && !seen[t.From] {
			seen[t.From] = true
			out = append(out, t.From)
		}
	}
	return out
}

func ingredients(content []lots.Part, barrels map[lots.Place]stock.Item) []lots.Ingredient {
	out := make([]lots.Ingredient, len(content))
	for n, part := range content {
		i := barrels[part.Place]
		out[n] = lots.Ingredient{Mass: part.Mass, Variety: i.Variety, Member: i.Member, Moisture: i.Grading.Moisture}
		if i.Grading.Pfund != nil {
			mm := blend.Pfund(*i.Grading.Pfund)
			out[n].Pfund = &mm
		}
	}
	return out
}

// Balance adds up all honey.
func (a *App) Balance(ctx context.Context) (Balance, error) {
	return a.Lots.Balance(ctx, a.DB.Pool())
}
