package app

import (
	"context"
	"slices"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/quantity"
)

// StartRun begins a run of jars.
type StartRun struct {
	Charge      uuid.UUID
	Label, Line string
	Actor       string
}

// StartRun records the lot, unless the charge breaks a rule of the label.
func (a *App) StartRun(ctx context.Context, tx pgx.Tx, c StartRun) (lots.Run, []feed.Fact, error) {
	w := a.work(ctx, tx, c.Actor)
	f, err := a.Lots.Charge(ctx, tx, c.Charge)
	if err != nil {
		return lots.Run{}, nil, err
	}
	// Lots of one tank and day are numbered one after the other.
	if _, err := a.Lots.LockTank(ctx, tx, f.Tank); err != nil {
		return lots.Run{}, nil, err
	}
	if f, err = w.inTank(c.Charge, "packed"); err != nil {
		return lots.Run{}, nil, err
	}
	l, err := w.claims(f, c.Label)
	if err != nil {
		return lots.Run{}, nil, err
	}
	if err := w.cleared(c.Line); err != nil {
		return lots.Run{}, nil, err
	}
	r := lots.Run{ID: uuid.New(), Label: c.Label, Line: c.Line, Starter: c.Actor, Time: a.now()}
	r.BestBy = l.BestBy(r.Time.In(a.Zone))
	if r.Code, err = w.code(f.Tank); err != nil {
		return r, nil, err
	}
	if err := a.Lots.AddRun(ctx, tx, r); err != nil {
		return r, nil, err
	}
	if err := a.Lots.AddRunCharge(ctx, tx, r.ID, f.ID, 1, c.Actor, "", r.Time); err != nil {
		return r, nil, err
	}
	if r, err = a.Lots.Run(ctx, tx, r.ID); err != nil {
		return r, nil, err
	}
	return r, []feed.Fact{{
		Aggregate: string(r.Place()), OccurTime: r.Time, Payload: &inventoryv1.PackLotStarted{PackLot: present.Run(r, a.Unit)},
	}}, nil
}

func (w *work) code(tank string) (string, error) {
	day := w.now().In(w.Zone)
	first, err := lots.LotCode(w.Site, tank, day, 1)
	if err != nil {
		return "", err
	}
	// The number of the run and the check character are the last three.
	n, err := w.Lots.CountRuns(w.ctx, w.tx, first[:len(first)-3])
	if err != nil {
		return "", err
	}
	return lots.LotCode(w.Site, tank, day, n+1)
}

// run locks a lot.
func (w *work) run(id uuid.UUID, with ...lots.Place) (lots.Run, error) {
	if err := w.Lots.LockPlaces(w.ctx, w.tx, append(with, lots.Of(lots.Pack, id))...); err != nil {
		return lots.Run{}, err
	}
	return w.Lots.Run(w.ctx, w.tx, id)
}

// DrawRun takes honey from a charge into a lot.
type DrawRun struct {
	Run, Charge uuid.UUID
	Mass        quantity.Mass
	Confirmed   bool
	Reason      string
	Actor       string
}

// DrawRun records it; a further charge is recorded with who confirmed it and why.
func (a *App) DrawRun(ctx context.Context, tx pgx.Tx, c DrawRun) (lots.Run, []feed.Fact, error) {
	w := a.work(ctx, tx, c.Actor)
	r, err := w.run(c.Run, lots.Of(lots.Charge, c.Charge))
	if err != nil {
		return r, nil, err
	}
	if err := r.Free("filled"); err != nil {
		return r, nil, err
	}
	if err := r.Draw(c.Charge, c.Confirmed, c.Reason, c.Actor); err != nil {
		return r, nil, err
	}
	f, err := w.inTank(c.Charge, "packed")
	if err != nil {
		return r, nil, err
	}
	if err := w.enough(f.Place(), f.Called(), f.Content, c.Mass); err != nil {
		return r, nil, err
	}
	if _, err := w.claims(f, r.Label); err != nil {
		return r, nil, err
	}
	if !slices.Contains(r.Charges, f.ID) {
		if err := a.Lots.AddRunCharge(ctx, tx, r.ID, f.ID, len(r.Charges)+1, c.Actor, c.Reason, a.now()); err != nil {
			return r, nil, err
		}
	}
	if _, err := w.pour(f.Place(), r.Place(), c.Mass, c.Reason); err != nil {
		return r, nil, err
	}
	r, err = a.Lots.Run(ctx, tx, r.ID)
	return r, w.facts, err
}

// ReturnRework pours honey of an open lot back into a tank.
type ReturnRework struct {
	Run, Charge uuid.UUID
	Mass        quantity.Mass
	Actor       string
}

// ReturnRework records it.
func (a *App) ReturnRework(ctx context.Context, tx pgx.Tx, c ReturnRework) (lots.Run, []feed.Fact, error) {
	w := a.work(ctx, tx, c.Actor)
	r, err := w.run(c.Run, lots.Of(lots.Charge, c.Charge))
	if err != nil {
		return r, nil, err
	}
	if r.Closed {
		return r, nil, &lots.ClosedError{Place: r.Place(), Called: r.Called()}
	}
	if err := r.Free("poured back"); err != nil {
		return r, nil, err
	}
	f, err := w.inTank(c.Charge, "filled")
	if err != nil {
		return r, nil, err
	}
	if err := w.enough(r.Place(), r.Called(), r.Content, c.Mass); err != nil {
		return r, nil, err
	}
	if err := w.room(f, c.Mass); err != nil {
		return r, nil, err
	}
	if _, err := w.pour(r.Place(), f.Place(), c.Mass, "rework"); err != nil {
		return r, nil, err
	}
	r, err = a.Lots.Run(ctx, tx, r.ID)
	return r, w.facts, err
}

// CloseRun ends a run.
type CloseRun struct {
	Run     uuid.UUID
	Jars    int64
	MeanNet quantity.Mass
	Actor   string
}

// CloseRun records the jars, if they weigh what was drawn.
func (a *App) CloseRun(ctx context.Context, tx pgx.Tx, c CloseRun) (lots.Run, []feed.Fact, error) {
	w := a.work(ctx, tx, c.Actor)
	r, err := w.run(c.Run)
	if err != nil {
		return r, nil, err
	}
	if r, err = r.Finish(c.Jars, c.MeanNet, a.Unit); err != nil {
		return r, nil, err
	}
	now := a.now()
	if err := a.Lots.CloseRun(ctx, tx, r, c.Actor, now); err != nil {
		return r, nil, err
	}
	return r, []feed.Fact{{
		Aggregate: string(r.Place()), OccurTime: now, Payload: &inventoryv1.PackLotClosed{PackLot: present.Run(r, a.Unit)},
	}}, nil
}

// Run reads a lot by its uuid or by the code on a jar.
func (a *App) Run(ctx context.Context, idOrCode string) (lots.Run, error) {
	if id, err := uuid.Parse(idOrCode); err == nil {
		return a.Lots.Run(ctx, a.DB.Pool(), id)
	}
	return a.Lots.RunByCode(ctx, a.DB.Pool(), strings.ToUpper(idOrCode))
}
