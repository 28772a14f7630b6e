package app

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/feed"
)

// Move says where a barrel stands now.
type Move struct {
	Barrel   uuid.UUID
	Location string
	ETag     string
	Mover    string
}

// Move records the move and returns the barrel after it.
func (a *App) Move(ctx context.Context, tx pgx.Tx, c Move) (stock.Item, []feed.Fact, error) {
	item, err := a.Stock.Lock(ctx, tx, c.Barrel)
	if err != nil {
		return item, nil, err
	}
	if err := item.Match(c.ETag); err != nil {
		return item, nil, err
	}
	m, err := item.Move(uuid.New(), c.Location, c.Mover, a.now())
	if err != nil {
		return item, nil, err
	}
	if err := a.Stock.AddMovement(ctx, tx, m); err != nil {
		return item, nil, err
	}
	item.Location, item.Moves = m.To, m.Number
	return item, []feed.Fact{{
		Aggregate: stock.Name(m.Barrel), OccurTime: m.Time,
		Payload: &inventoryv1.BarrelMoved{Movement: present.Movement(m)},
	}}, nil
}

// now is as fine as the database keeps it, so that what is answered is what is read later.
func (a *App) now() time.Time { return a.Clock.Now().UTC().Truncate(time.Microsecond) }
