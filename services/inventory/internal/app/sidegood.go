package app

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/sidegood"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// SideGoods is where comb and wax are kept.
type SideGoods interface {
	// LockSideGood keeps others from taking of a good and crop year, and answers what there is.
	LockSideGood(ctx context.Context, q pg.Querier, good sidegood.Good, year int32) (int64, error)
	AddSideEntry(ctx context.Context, q pg.Querier, e sidegood.Entry) error
	SideEntries(ctx context.Context, q pg.Querier, before int64, limit int) ([]sidegood.Entry, error)
	SideStocks(ctx context.Context, q pg.Querier) ([]sidegood.Stock, error)
}

// RecordSideEntry records it, if there is as much as leaves.
func (a *App) RecordSideEntry(ctx context.Context, tx pgx.Tx, e sidegood.Entry) (sidegood.Entry, []feed.Fact, error) {
	has, err := a.Lots.LockSideGood(ctx, tx, e.Good, e.CropYear)
	if err != nil {
		return e, nil, err
	}
	if err := e.Fits(has, a.Unit); err != nil {
		return e, nil, err //nolint:wrapcheck // gives the numbers
	}
	e.ID, e.Time = uuid.New(), a.now()
	if err := a.Lots.AddSideEntry(ctx, tx, e); err != nil {
		return e, nil, err
	}
	return e, []feed.Fact{{Aggregate: e.Name(), OccurTime: e.Time, Payload: &inventoryv1.SideGoodRecorded{Entry: present.SideEntry(e, a.Unit)}}}, nil
}
