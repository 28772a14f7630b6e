package app

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/line"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/netcontent"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// NetChecks is where net content checks are kept. What is not there is a *stock.NotFoundError.
type NetChecks interface {
	AddNetCheck(ctx context.Context, q pg.Querier, c lots.NetCheck) error
	NetCheck(ctx context.Context, q pg.Querier, id uuid.UUID) (lots.NetCheck, error)
	// NetChecks lists those of a lot, oldest first.
	NetChecks(ctx context.Context, q pg.Querier, run uuid.UUID) ([]lots.NetCheck, error)
	AddNetRelease(ctx context.Context, q pg.Querier, c lots.NetCheck) error
}

// CheckNetContent is a sample of jars.
type CheckNetContent struct {
	Run    uuid.UUID
	Sample netcontent.Sample
	Actor  string
}

// CheckNetContent judges and records it. The lot is locked: a shipment of it waits for the outcome.
func (a *App) CheckNetContent(ctx context.Context, tx pgx.Tx, c CheckNetContent) (lots.NetCheck, []feed.Fact, error) {
	r, err := a.work(ctx, tx, c.Actor).run(c.Run)
	if err != nil {
		return lots.NetCheck{}, nil, err
	}
	l, err := a.Lots.Label(ctx, tx, r.Label)
	if err != nil {
		return lots.NetCheck{}, nil, err
	}
	if err := line.AsPrinted(l, c.Sample); err != nil {
		return lots.NetCheck{}, nil, err //nolint:wrapcheck // says what the label says
	}
	check, err := r.Weighed(uuid.New(), c.Sample, c.Actor, a.now())
	if err != nil {
		return check, nil, err
	}
	if err := a.Lots.AddNetCheck(ctx, tx, check); err != nil {
		return check, nil, err
	}
	return check, []feed.Fact{{
		Aggregate: string(r.Place()), OccurTime: check.Time, Payload: &inventoryv1.NetContentChecked{Check: present.NetCheck(check)},
	}}, nil
}

// ReleaseNetCheck lets a lot be shipped after a failed check.
type ReleaseNetCheck struct {
	Check  uuid.UUID
	Reason string
	Actor  string
}

// ReleaseNetCheck records it.
func (a *App) ReleaseNetCheck(ctx context.Context, tx pgx.Tx, c ReleaseNetCheck) (lots.NetCheck, []feed.Fact, error) {
	check, err := a.Lots.NetCheck(ctx, tx, c.Check)
	if err != nil {
		return check, nil, err
	}
	r, err := a.work(ctx, tx, c.Actor).run(check.Run)
	if err != nil {
		return check, nil, err
	}
	// Only now nobody else can be releasing it.
	if check, err = a.Lots.NetCheck(ctx, tx, c.Check); err != nil {
		return check, nil, err
	}
	if check, err = check.End(c.Actor, c.Reason, a.now()); err != nil {
		return check, nil, err
	}
	if err := a.Lots.AddNetRelease(ctx, tx, check); err != nil {
		return check, nil, err
	}
	return check, []feed.Fact{{
		Aggregate: string(r.Place()), OccurTime: check.Release.Time, Payload: &inventoryv1.NetContentReleased{Check: present.NetCheck(check)},
	}}, nil
}

// NetChecks lists the checks of a lot.
func (a *App) NetChecks(ctx context.Context, run uuid.UUID) ([]lots.NetCheck, error) {
	if _, err := a.Lots.Run(ctx, a.DB.Pool(), run); err != nil {
		return nil, err
	}
	return a.Lots.NetChecks(ctx, a.DB.Pool(), run)
}

// fullWeight fails with a *lots.ShortWeightError while a check keeps a lot in the house. The lot must be locked.
func (w *work) fullWeight(r lots.Run) error {
	checks, err := w.Lots.NetChecks(w.ctx, w.tx, r.ID)
	if err != nil {
		return err
	}
	for _, c := range checks {
		if c.Blocks() {
			return &lots.ShortWeightError{Run: r, Check: c}
		}
	}
	return nil
}
