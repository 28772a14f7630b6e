package app

import (
	"context"
	"errors"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// PlaceHold blocks a barrel, a charge or a lot.
type PlaceHold struct {
	Place  lots.Place
	Code   stock.Code
	Reason string
	Placer string
}

// PlaceHold records a hold and those that follow from it. Honey under way arrives first, and what moves later sees the hold.
func (a *App) PlaceHold(ctx context.Context, tx pgx.Tx, c PlaceHold) (stock.Hold, []feed.Fact, error) {
	if err := a.Stock.LockFlow(ctx, tx); err != nil {
		return stock.Hold{}, nil, err
	}
	h, err := a.hold(ctx, tx, c)
	if err != nil {
		return stock.Hold{}, nil, err
	}
	facts, err := a.AddHold(ctx, tx, h)
	return h, facts, err
}

// hold decides whether a place can be held.
func (a *App) hold(ctx context.Context, tx pgx.Tx, c PlaceHold) (stock.Hold, error) {
	id, err := uuid.Parse(c.Place.ID())
	if err != nil {
		return stock.Hold{}, &stock.NotFoundError{Resource: string(c.Place)}
	}
	if c.Place.Kind() == lots.Barrel {
		item, err := a.Stock.Lock(ctx, tx, id)
		if err != nil {
			return stock.Hold{}, err
		}
		return item.Hold(uuid.New(), c.Code, c.Reason, c.Placer, a.now())
	}
	return stock.Hold{
		ID: uuid.New(), Kind: string(c.Place.Kind()), Barrel: id, Code: c.Code, Reason: c.Reason, Placer: c.Placer, Time: a.now(),
	}, a.exists(ctx, tx, c.Place)
}

// AddHold records a hold and spreads it over everything in the house that is made of what it holds. The flow of honey must be
// locked. One that is there already spreads no further: what it holds has not moved since.
func (a *App) AddHold(ctx context.Context, q pg.Querier, h stock.Hold) ([]feed.Fact, error) {
	fresh, err := a.Stock.AddHold(ctx, q, h)
	if err != nil || !fresh {
		return nil, err
	}
	first, err := a.placed(ctx, q, h)
	if err != nil {
		return nil, err
	}
	reached, err := a.reached(ctx, q, lots.Place(h.Place()))
	if err != nil {
		return nil, err
	}
	more, err := a.spread(ctx, q, h, reached)
	return append([]feed.Fact{first}, more...), err
}

// spread holds places for the cause of h.
func (a *App) spread(ctx context.Context, q pg.Querier, h stock.Hold, places []lots.Place) ([]feed.Fact, error) {
	var facts []feed.Fact
	for _, p := range places {
		id, err := uuid.Parse(p.ID())
		// What came back is not for sale, and what it is made of is asked again before it is.
		if err != nil || !h.Reaches(string(p.Kind())) || p.Kind() == lots.Returned {
			continue
		}
		follows := h.Spread(string(p.Kind()), id)
		fresh, err := a.Stock.AddHold(ctx, q, follows)
		if err != nil {
			return nil, err
		}
		if !fresh {
			continue
		}
		fact, err := a.placed(ctx, q, follows)
		if err != nil {
			return nil, err
		}
		facts = append(facts, fact)
	}
	return facts, nil
}

func (a *App) reached(ctx context.Context, q pg.Querier, place lots.Place) ([]lots.Place, error) {
	a.genealogy.Lock()
	defer a.genealogy.Unlock()
	if _, err := a.genealogy.refresh(ctx, q, a.Lots, a.now()); err != nil {
		return nil, err
	}
	return a.genealogy.book.Reached(place), nil
}

// placed is the fact of a hold.
func (a *App) placed(ctx context.Context, q pg.Querier, h stock.Hold) (feed.Fact, error) {
	fact := feed.Fact{Aggregate: stock.HoldName(h.ID), OccurTime: h.Time, Payload: &inventoryv1.LotHoldPlaced{Hold: present.Hold(h)}}
	if h.Kind != stock.OfBarrel {
		return fact, nil
	}
	root, err := a.root(ctx, q, h.Barrel)
	fact.Payload = &inventoryv1.HoldPlaced{Hold: present.Hold(h), Barrel: present.BarrelName(root)}
	return fact, err
}

// released is the fact that a hold ended.
func (a *App) released(ctx context.Context, q pg.Querier, h stock.Hold) (feed.Fact, error) {
	fact := feed.Fact{Aggregate: stock.HoldName(h.ID), OccurTime: h.Release.Time, Payload: &inventoryv1.LotHoldReleased{Hold: present.Hold(h)}}
	if h.Kind != stock.OfBarrel {
		return fact, nil
	}
	root, err := a.root(ctx, q, h.Barrel)
	fact.Payload = &inventoryv1.HoldReleased{Hold: present.Hold(h), Barrel: present.BarrelName(root)}
	return fact, err
}

// root is the barrel at intake a container was filled from; one that is not known yet is its own.
func (a *App) root(ctx context.Context, q pg.Querier, barrel uuid.UUID) (uuid.UUID, error) {
	item, err := a.Stock.Item(ctx, q, barrel)
	if _, unknown := errors.AsType[*stock.NotFoundError](err); unknown {
		return barrel, nil
	}
	return item.Root, err
}

// ReleaseHold ends a hold.
type ReleaseHold struct {
	Hold     uuid.UUID
	Reason   string
	Releaser string
}

// ReleaseHold records the end of a hold and of those that follow from it.
func (a *App) ReleaseHold(ctx context.Context, tx pgx.Tx, c ReleaseHold) (stock.Hold, []feed.Fact, error) {
	if err := a.Stock.LockFlow(ctx, tx); err != nil {
		return stock.Hold{}, nil, err
	}
	h, err := a.Stock.Hold(ctx, tx, c.Hold)
	if err != nil {
		return h, nil, err
	}
	return a.EndHold(ctx, tx, h, stock.Release{Releaser: c.Releaser, Reason: c.Reason, Time: a.now()})
}

// EndHold records the end of a hold and of those that follow from it. The flow of honey must be locked.
func (a *App) EndHold(ctx context.Context, q pg.Querier, h stock.Hold, by stock.Release) (stock.Hold, []feed.Fact, error) {
	h, err := h.End(by.Releaser, by.Reason, by.Time)
	if err != nil {
		return h, nil, err
	}
	followers, err := a.Stock.OpenSpread(ctx, q, h.ID)
	if err != nil {
		return h, nil, err
	}
	var facts []feed.Fact
	for _, one := range append([]stock.Hold{h}, followers...) {
		if one.Release == nil {
			one.Release = &by
		}
		if err := a.Stock.AddRelease(ctx, q, one); err != nil {
			return h, nil, err
		}
		fact, err := a.released(ctx, q, one)
		if err != nil {
			return h, nil, err
		}
		facts = append(facts, fact)
	}
	return h, facts, nil
}
