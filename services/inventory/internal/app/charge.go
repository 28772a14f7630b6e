package app

import (
	"context"
	"errors"
	"slices"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
)

// ChargeView is a charge with what it is by the books.
type ChargeView struct {
	lots.Filling
	Figures lots.Figures
	// Planned is what it will be with every open pick in it; nil without open picks.
	Planned *lots.Figures
}

// meant is what the charge is on its way to be.
func (v ChargeView) meant() lots.Figures {
	if v.Planned != nil {
		return *v.Planned
	}
	return v.Figures
}

// OpenCharge begins a filling of a tank.
type OpenCharge struct {
	Tank  string
	Heel  quantity.Mass
	Rules lots.Rules
	Picks []uuid.UUID
	Actor string
}

// OpenCharge records the charge, with the heel of the one before as its first input.
func (a *App) OpenCharge(ctx context.Context, tx pgx.Tx, c OpenCharge) (ChargeView, []feed.Fact, error) {
	w := a.work(ctx, tx, c.Actor)
	tank, err := a.Lots.LockTank(ctx, tx, c.Tank)
	if err != nil {
		return ChargeView{}, nil, err
	}
	f := lots.Filling{ID: uuid.New(), Previous: tank.Charge, Tank: c.Tank, Rules: c.Rules, Picks: c.Picks, Opener: c.Actor, Time: a.now()}
	if f.Previous != uuid.Nil {
		if err := a.Lots.LockPlaces(ctx, tx, lots.Of(lots.Charge, f.Previous)); err != nil {
			return ChargeView{}, nil, err
		}
	}
	// The tank is locked, so no other charge of it is counted or given a code meanwhile.
	n, err := a.Lots.CountCharges(ctx, tx, f.Tank, lots.ChargeCodes(f.Tank, f.Time.In(a.Zone)))
	if err != nil {
		return ChargeView{}, nil, err
	}
	f.Code = lots.ChargeCode(f.Tank, f.Time.In(a.Zone), n+1)
	if err := a.Lots.AddCharge(ctx, tx, f); err != nil {
		return ChargeView{}, nil, err
	}
	if err := w.heel(f, c.Heel, "heel", true); err != nil {
		return ChargeView{}, nil, err
	}
	v, err := a.chargeView(ctx, tx, f.ID)
	if err != nil {
		return v, nil, err
	}
	return v, append(w.facts, w.opened(v)), nil
}

func (w *work) opened(v ChargeView) feed.Fact {
	return feed.Fact{
		Aggregate: string(v.Place()), OccurTime: v.Time,
		Payload: &inventoryv1.ChargeOpened{Charge: present.Charge(v.Filling, v.Figures, w.Unit)},
	}
}

// heel moves what was left of the charge before into f; with free only if nothing holds it.
func (w *work) heel(f lots.Filling, mass quantity.Mass, reason string, free bool) error {
	if mass == 0 {
		return nil
	}
	previous := lots.Of(lots.Charge, f.Previous)
	if f.Previous == uuid.Nil {
		return w.enough(lots.Place("tanks/"+f.Tank), "tank "+f.Tank, 0, mass)
	}
	before, err := w.Lots.Charge(w.ctx, w.tx, f.Previous)
	if err != nil {
		return err
	}
	if err := w.enough(previous, before.Called(), before.Content, mass); err != nil {
		return err
	}
	if free {
		if err := before.Free("kept in the tank as a heel: drain it or release it"); err != nil {
			return err
		}
	}
	_, err = w.pour(previous, f.Place(), mass, reason)
	return err
}

// FillCharge empties a barrel, or part of it, into a tank.
type FillCharge struct {
	Charge, Barrel uuid.UUID
	Mass           quantity.Mass // 0: all that is left
	Drained        bool
	Replaces       uuid.UUID // zero: none
	Reason         string
	Confirm        bool // a substitute that breaks a rule
	Actor          string
}

// FillCharge records what went in, a substitution, and what stayed in the drum.
func (a *App) FillCharge(ctx context.Context, tx pgx.Tx, c FillCharge) (ChargeView, []feed.Fact, error) {
	w := a.work(ctx, tx, c.Actor)
	item, mass, err := w.barrel(c.Barrel, c.Mass, "blended")
	if err != nil {
		return ChargeView{}, nil, err
	}
	f, err := w.inTank(c.Charge, "filled")
	if err != nil {
		return ChargeView{}, nil, err
	}
	before, err := a.beforeSubstitution(ctx, tx, c)
	if err != nil {
		return ChargeView{}, nil, err
	}
	if err := w.scanned(f, item, c); err != nil {
		return ChargeView{}, nil, err
	}
	if err := w.room(f, mass); err != nil {
		return ChargeView{}, nil, err
	}
	from := lots.Of(lots.Barrel, c.Barrel)
	if _, err := w.pour(from, f.Place(), mass, c.Reason); err != nil {
		return ChargeView{}, nil, err
	}
	if stayed := item.Remaining() - mass; c.Drained && stayed > 0 {
		if _, err := w.pour(from, lots.At(lots.Loss, lots.Drain), stayed, "stayed in the drained drum"); err != nil {
			return ChargeView{}, nil, err
		}
	}
	v, err := a.chargeView(ctx, tx, f.ID)
	if err == nil && before != nil {
		err = lots.StillKept(item.DrumTag, *before, v.meant())
	}
	return v, w.facts, err
}

// beforeSubstitution is what a charge was to become; nil where nothing is substituted or what it breaks is confirmed.
func (a *App) beforeSubstitution(ctx context.Context, q pg.Querier, c FillCharge) (*lots.Figures, error) {
	if c.Replaces == uuid.Nil || c.Confirm {
		return nil, nil //nolint:nilnil // nothing to compare is the ordinary case
	}
	v, err := a.chargeView(ctx, q, c.Charge)
	meant := v.meant()
	return &meant, err
}

func (w *work) scanned(f lots.Filling, item stock.Item, c FillCharge) error {
	s, err := f.Scan(item.Barrel, item.DrumTag, c.Replaces, c.Reason, c.Actor, w.now())
	if unplanned, ok := errors.AsType[*lots.NotPlannedError](err); ok {
		if unplanned.Called, err = w.called(lots.Of(lots.Barrel, unplanned.Barrel)); err != nil {
			return err
		}
		return unplanned
	}
	if err != nil || s == nil {
		return err
	}
	return w.Lots.AddSubstitution(w.ctx, w.tx, f.ID, *s)
}

// CorrectHeel books a heel that was forgotten.
type CorrectHeel struct {
	Charge uuid.UUID
	Mass   quantity.Mass
	Reason string
	Actor  string
}

// CorrectHeel moves part of the unexplained remainder of the charge before into this one. It was there all along, so a hold of
// that charge does not keep the books from saying so: it reaches this one and what was made of it instead.
func (a *App) CorrectHeel(ctx context.Context, tx pgx.Tx, c CorrectHeel) (ChargeView, []feed.Fact, error) {
	w := a.work(ctx, tx, c.Actor)
	if err := a.Stock.LockFlow(ctx, tx); err != nil {
		return ChargeView{}, nil, err
	}
	// The predecessor never changes, so it may be read before the two are locked together.
	f, err := a.Lots.Charge(ctx, tx, c.Charge)
	if err != nil {
		return ChargeView{}, nil, err
	}
	if err := a.Lots.LockPlaces(ctx, tx, f.Place(), lots.Of(lots.Charge, f.Previous)); err != nil {
		return ChargeView{}, nil, err
	}
	if f, err = w.openCharge(c.Charge); err != nil {
		return ChargeView{}, nil, err
	}
	if err := w.heel(f, c.Mass, c.Reason, false); err != nil {
		return ChargeView{}, nil, err
	}
	if err := w.inherit(f); err != nil {
		return ChargeView{}, nil, err
	}
	v, err := a.chargeView(ctx, tx, f.ID)
	return v, w.facts, err
}

// inherit spreads the holds of the charge before over f and what was made of it.
func (w *work) inherit(f lots.Filling) error {
	before, err := w.Lots.Charge(w.ctx, w.tx, f.Previous)
	if err != nil || len(before.Holds) == 0 {
		return err
	}
	reached, err := w.reached(w.ctx, w.tx, f.Place())
	if err != nil {
		return err
	}
	for _, h := range before.Holds {
		facts, err := w.spread(w.ctx, w.tx, h, append(reached, f.Place()))
		if err != nil {
			return err
		}
		w.facts = append(w.facts, facts...)
	}
	return nil
}

// TransferCharge pumps honey from one tank to another.
type TransferCharge struct {
	From, To uuid.UUID
	Mass     quantity.Mass
	Actor    string
}

// TransferCharge records it and returns the charge it went to.
func (a *App) TransferCharge(ctx context.Context, tx pgx.Tx, c TransferCharge) (ChargeView, []feed.Fact, error) {
	w := a.work(ctx, tx, c.Actor)
	if err := a.Lots.LockPlaces(ctx, tx, lots.Of(lots.Charge, c.From), lots.Of(lots.Charge, c.To)); err != nil {
		return ChargeView{}, nil, err
	}
	from, err := w.inTank(c.From, "pumped")
	if err != nil {
		return ChargeView{}, nil, err
	}
	to, err := w.inTank(c.To, "filled")
	if err != nil {
		return ChargeView{}, nil, err
	}
	if from.Tank == to.Tank {
		return ChargeView{}, nil, &stock.StateError{Resource: string(to.Place()), Called: to.Called(), State: "SAME_TANK", Action: "pumped into from its own tank"}
	}
	if err := w.enough(from.Place(), from.Called(), from.Content, c.Mass); err != nil {
		return ChargeView{}, nil, err
	}
	if err := w.room(to, c.Mass); err != nil {
		return ChargeView{}, nil, err
	}
	if _, err := w.pour(from.Place(), to.Place(), c.Mass, ""); err != nil {
		return ChargeView{}, nil, err
	}
	v, err := a.chargeView(ctx, tx, to.ID)
	return v, w.facts, err
}

// CloseCharge says that a charge is used up; it must be explained to the last thousandth.
func (a *App) CloseCharge(ctx context.Context, tx pgx.Tx, charge uuid.UUID, actor string) (ChargeView, []feed.Fact, error) {
	w := a.work(ctx, tx, actor)
	f, err := w.charge(charge)
	if err != nil {
		return ChargeView{}, nil, err
	}
	if err := f.Reconcile(a.Unit); err != nil {
		return ChargeView{}, nil, err
	}
	now := a.now()
	if err := a.Lots.CloseCharge(ctx, tx, charge, actor, now); err != nil {
		return ChargeView{}, nil, err
	}
	v, err := a.chargeView(ctx, tx, charge)
	return v, []feed.Fact{{
		Aggregate: string(f.Place()), OccurTime: now,
		Payload: &inventoryv1.ChargeClosed{Charge: present.Charge(v.Filling, v.Figures, a.Unit)},
	}}, err
}

// FindCharge is the id of a charge, by id or by what people call it.
func (a *App) FindCharge(ctx context.Context, idOrCode string) (uuid.UUID, error) {
	if id, err := uuid.Parse(idOrCode); err == nil {
		return id, nil
	}
	return a.Lots.ChargeByCode(ctx, a.DB.Pool(), strings.ToUpper(idOrCode))
}

// Charge reads one charge.
func (a *App) Charge(ctx context.Context, charge uuid.UUID) (v ChargeView, err error) {
	err = a.DB.InSnapshot(ctx, func(ctx context.Context, tx pgx.Tx) error {
		v, err = a.chargeView(ctx, tx, charge)
		return err
	})
	return v, err
}

// chargeView reads what is in the charge first: the book must not be ahead of the snapshot.
func (a *App) chargeView(ctx context.Context, q pg.Querier, charge uuid.UUID) (ChargeView, error) {
	content, err := a.content(ctx, q, lots.Of(lots.Charge, charge))
	if err != nil {
		return ChargeView{}, err
	}
	f, err := a.Lots.Charge(ctx, q, charge)
	if err != nil {
		return ChargeView{}, err
	}
	v := ChargeView{Filling: f}
	if v.Figures, err = a.judge(ctx, q, content, f.Rules); err != nil {
		return v, err
	}
	v.Planned, err = a.planned(ctx, q, content, f)
	return v, err
}

// planned judges the content together with the open picks, whole as they are now.
func (a *App) planned(ctx context.Context, q pg.Querier, content []lots.Part, f lots.Filling) (*lots.Figures, error) {
	open := f.OpenPicks()
	if len(open) == 0 {
		return nil, nil //nolint:nilnil // absent, as documented
	}
	picks, err := a.Stock.Barrels(ctx, q, open)
	if err != nil {
		return nil, err
	}
	all := slices.Clone(content)
	for _, item := range picks {
		all = append(all, lots.Part{Place: lots.Of(lots.Barrel, item.Barrel), Mass: item.Remaining()})
	}
	figures, err := a.judge(ctx, q, all, f.Rules)
	return &figures, err
}

// judge compares a content with rules.
func (a *App) judge(ctx context.Context, q pg.Querier, content []lots.Part, rules lots.Rules) (lots.Figures, error) {
	ids := make([]uuid.UUID, len(content))
	for n, part := range content {
		ids[n] = uuid.MustParse(part.Place.ID())
	}
	barrels, err := a.barrels(ctx, q, ids)
	if err != nil {
		return lots.Figures{}, err
	}
	return rules.Judge(ingredients(content, barrels)), nil
}
