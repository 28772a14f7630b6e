package app

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/feed"
)

// PlaceHold blocks a barrel.
type PlaceHold struct {
	Barrel uuid.UUID
	Code   stock.Code
	Reason string
	Placer string
}

// PlaceHold records a hold. Moves of the barrel under way end first, and later ones see the hold.
func (a *App) PlaceHold(ctx context.Context, tx pgx.Tx, c PlaceHold) (stock.Hold, []feed.Fact, error) {
	item, err := a.Stock.Lock(ctx, tx, c.Barrel)
	if err != nil {
		return stock.Hold{}, nil, err
	}
	h, err := item.Hold(uuid.New(), c.Code, c.Reason, c.Placer, a.now())
	if err != nil {
		return stock.Hold{}, nil, err
	}
	if _, err := a.Stock.AddHold(ctx, tx, h); err != nil {
		return stock.Hold{}, nil, err
	}
	return h, []feed.Fact{Placed(h, item.Root)}, nil
}

// Placed is the fact that a barrel is held; root is the barrel as it was delivered.
func Placed(h stock.Hold, root uuid.UUID) feed.Fact {
	return feed.Fact{
		Aggregate: stock.HoldName(h.ID), OccurTime: h.Time,
		Payload: &inventoryv1.HoldPlaced{Hold: present.Hold(h), Barrel: present.BarrelName(root)},
	}
}

// Released is the fact that a barrel is held no more for one cause; root is the barrel as it was delivered.
func Released(h stock.Hold, root uuid.UUID) feed.Fact {
	return feed.Fact{
		Aggregate: stock.HoldName(h.ID), OccurTime: h.Release.Time,
		Payload: &inventoryv1.HoldReleased{Hold: present.Hold(h), Barrel: present.BarrelName(root)},
	}
}

// ReleaseHold ends a hold.
type ReleaseHold struct {
	Hold     uuid.UUID
	Reason   string
	Releaser string
}

// ReleaseHold records the end of a hold.
func (a *App) ReleaseHold(ctx context.Context, tx pgx.Tx, c ReleaseHold) (stock.Hold, []feed.Fact, error) {
	h, err := a.Stock.Hold(ctx, tx, c.Hold)
	if err != nil {
		return h, nil, err
	}
	item, err := a.Stock.Lock(ctx, tx, h.Barrel)
	if err != nil {
		return h, nil, err
	}
	// Only now nobody else can be releasing it.
	if h, err = a.Stock.Hold(ctx, tx, c.Hold); err != nil {
		return h, nil, err
	}
	if h, err = h.End(c.Releaser, c.Reason, a.now()); err != nil {
		return h, nil, err
	}
	if err := a.Stock.AddRelease(ctx, tx, h); err != nil {
		return h, nil, err
	}
	return h, []feed.Fact{Released(h, item.Root)}, nil
}
