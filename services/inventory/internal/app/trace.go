package app

import (
	"context"
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/domain/blend"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
)

// MostTransfers is how many transfers an answer lists; a house whose tanks are never emptied has more on the way to everything.
const MostTransfers = 20_000

// Trace follows one place both ways.
func (a *App) Trace(ctx context.Context, place lots.Place) (t Traced, err error) {
	err = a.DB.InSnapshot(ctx, func(ctx context.Context, tx pgx.Tx) error {
		t.Trace, err = a.follow(ctx, tx, place)
		if err != nil {
			return fmt.Errorf("trace %s: %w", place, err)
		}
		if err := a.explain(ctx, tx, &t); err != nil {
			return err
		}
		t.Known, err = a.Lots.PlaceNames(ctx, tx, t.places())
		return err
	})
	return t, err
}

// follow traces in the book. The lock is taken before the first statement, which is what the snapshot is of.
func (a *App) follow(ctx context.Context, tx pgx.Tx, place lots.Place) (*lots.Trace, error) {
	a.genealogy.Lock()
	defer a.genealogy.Unlock()
	if err := a.exists(ctx, tx, place); err != nil {
		return nil, err
	}
	if _, err := a.genealogy.refresh(ctx, tx, a.Lots, a.now()); err != nil {
		return nil, err
	}
	net, err := a.delivered(ctx, tx, place)
	if err != nil {
		return nil, err
	}
	return a.genealogy.book.Follow(place, net) //nolint:wrapcheck // says which transfer
}

// delivered is the net of a barrel. A reissued ticket may say less than was used already; the difference is the office's to
// settle, and must not stand in the way of a recall.
func (a *App) delivered(ctx context.Context, q pg.Querier, place lots.Place) (quantity.Mass, error) {
	if place.Kind() != lots.Barrel {
		return 0, nil
	}
	i, err := a.Stock.Item(ctx, q, uuid.MustParse(place.ID()))
	return max(i.Net, i.Taken), err
}

// explain reads what people want to know of the places and transfers of a trace.
func (a *App) explain(ctx context.Context, q pg.Querier, t *Traced) (err error) {
	var ids []uuid.UUID
	for _, s := range t.Sources {
		ids = append(ids, uuid.MustParse(s.Place.ID()))
	}
	if t.Barrels, err = a.barrels(ctx, q, ids); err != nil {
		return err
	}
	if t.Shipments, err = a.shipments(ctx, q, slices.Concat(t.Ends, t.Returned)); err != nil {
		return err
	}
	if t.Contacts, err = a.contacts(ctx, q, t.Shipments); err != nil {
		return err
	}
	t.Omitted = max(0, len(t.Transfers)-MostTransfers)
	var numbers []int64
	for _, x := range t.Transfers[t.Omitted:] {
		numbers = append(numbers, x.Number)
	}
	t.Transfers, err = a.Lots.Transfers(ctx, q, numbers)
	return err
}

func (a *App) barrels(ctx context.Context, q pg.Querier, ids []uuid.UUID) (map[lots.Place]stock.Item, error) {
	items, err := a.Stock.Barrels(ctx, q, ids)
	out := make(map[lots.Place]stock.Item, len(items))
	for _, i := range items {
		out[lots.Of(lots.Barrel, i.Barrel)] = i
	}
	return out, err
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
	case lots.Returned:
		_, err = a.Lots.Return(ctx, q, id)
	case lots.Loss:
		err = &stock.NotFoundError{Resource: string(place)}
	default:
		err = &stock.NotFoundError{Resource: string(place)}
	}
	return err
}

// recount traces a place a second way, from the records alone, to check the book against them.
func (a *App) recount(ctx context.Context, q pg.Querier, place lots.Place) (*lots.Trace, error) {
	transfers, err := a.Lots.Ledger(ctx, q, place, true)
	if err != nil {
		return nil, err
	}
	var ids []uuid.UUID
	for _, p := range append(barrelsOf(transfers), place) {
		if p.Kind() == lots.Barrel {
			ids = append(ids, uuid.MustParse(p.ID()))
		}
	}
	items, err := a.Stock.Barrels(ctx, q, ids)
	if err != nil {
		return nil, err
	}
	delivered := map[lots.Place]quantity.Mass{}
	for _, i := range items {
		if i.Parent == uuid.Nil {
			delivered[lots.Of(lots.Barrel, i.Barrel)] = max(i.Net, i.Taken)
		}
	}
	return lots.Follow(place, delivered, transfers) //nolint:wrapcheck // says which transfer
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
