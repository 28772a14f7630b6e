package app

import (
	"context"

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

// Returns is where what customers sent back is kept. What is not there is a *stock.NotFoundError.
type Returns interface {
	// Carried adds up what a shipment carried of a place and what came back of it.
	Carried(ctx context.Context, q pg.Querier, shipment uuid.UUID, of lots.Place) (lots.Carried, error)
	// AddReturn enters a return, empty.
	AddReturn(ctx context.Context, q pg.Querier, r lots.Return) error
	// AddDecision says what the transfer of that id was.
	AddDecision(ctx context.Context, q pg.Querier, r lots.Return, d lots.Decision) error
	Return(ctx context.Context, q pg.Querier, id uuid.UUID) (lots.Return, error)
	// Returns lists those numbered below before, newest first.
	Returns(ctx context.Context, q pg.Querier, f ReturnFilter, before int64, limit int) ([]lots.Return, error)
	// PutJars counts jars in a closed lot again, whose place must be locked.
	PutJars(ctx context.Context, q pg.Querier, run uuid.UUID, jars int64) error
	// HoldsOn lists the open holds that were placed on places themselves, oldest first, without those that ended for a place they had
	// spread to.
	HoldsOn(ctx context.Context, q pg.Querier, places []lots.Place, endedFor lots.Place) ([]stock.Hold, error)
}

// ReturnFilter selects returns; zero values select all.
type ReturnFilter struct {
	Waiting  bool
	Shipment uuid.UUID
}

// ReceiveReturn is what came back: a pallet by id or code, or jars of a lot, or honey in bulk. Without jars and mass it is all.
type ReceiveReturn struct {
	Shipment      uuid.UUID
	Pallet        string
	Of            lots.Place
	Jars          int64
	Mass          quantity.Mass
	Reason, Actor string
}

// ReceiveReturn records what came back, a return for each lot.
func (a *App) ReceiveReturn(ctx context.Context, tx pgx.Tx, c ReceiveReturn) ([]lots.Return, []feed.Fact, error) {
	w := a.work(ctx, tx, c.Actor)
	parts, pallet := []lots.Return{{Of: c.Of, Jars: c.Jars, Mass: c.Mass}}, ""
	if c.Pallet != "" {
		p, err := w.palletBack(&c)
		if err != nil {
			return nil, nil, err
		}
		parts, pallet = nil, p.SSCC
		for _, l := range p.Lines {
			parts = append(parts, lots.Return{Of: lots.Of(lots.Pack, l.Lot), Jars: l.Jars, Pallet: p.ID})
		}
	} else if err := w.lockBack(c); err != nil {
		return nil, nil, err
	}
	s, err := a.Lots.Shipment(ctx, tx, c.Shipment)
	if err != nil {
		return nil, nil, err
	}
	var made []lots.Return
	for _, r := range parts {
		r.Shipment, r.Customer, r.Reason = s.ID, s.Customer, c.Reason
		if r, err = w.receive(r, pallet); err != nil {
			return nil, nil, err
		}
		made = append(made, r)
	}
	return made, w.facts, nil
}

// palletBack locks the lots of a pallet that comes back, and takes its shipment where none was named.
func (w *work) palletBack(c *ReceiveReturn) (lots.Pallet, error) {
	p, err := w.Lots.Pallet(w.ctx, w.tx, c.Pallet)
	if err != nil {
		return p, err
	}
	if err := w.Lots.LockPlaces(w.ctx, w.tx, placesOf(p)...); err != nil {
		return p, err
	}
	if p, err = w.Lots.Pallet(w.ctx, w.tx, p.ID.String()); err != nil {
		return p, err
	}
	if c.Shipment == uuid.Nil {
		c.Shipment = p.Shipment
	}
	return p, p.Back(c.Shipment) //nolint:wrapcheck // says where it is
}

// lockBack keeps others from sending back the same jars or drum meanwhile.
func (w *work) lockBack(c ReceiveReturn) error {
	if c.Of.Kind() == lots.Barrel {
		_, err := w.Stock.Lock(w.ctx, w.tx, uuid.MustParse(c.Of.ID()))
		return err
	}
	return w.Lots.LockPlaces(w.ctx, w.tx, c.Of)
}

// receive records one return, of a pallet if it has a code; what it came from must be locked.
func (w *work) receive(r lots.Return, pallet string) (lots.Return, error) {
	carried, err := w.Lots.Carried(w.ctx, w.tx, r.Shipment, r.Of)
	if err != nil {
		return r, err
	}
	carried.Customer, carried.Pallet, carried.Unit = r.Customer, pallet, w.Unit
	if carried.Called, err = w.called(r.Of); err != nil {
		return r, err
	}
	if r.Jars, r.Mass, err = carried.Accept(r.Jars, r.Mass); err != nil {
		return r, err //nolint:wrapcheck // gives the numbers
	}
	r.ID, r.Receiver, r.Time = uuid.New(), w.actor, w.now()
	if err := w.Lots.AddReturn(w.ctx, w.tx, r); err != nil {
		return r, err
	}
	if _, err := w.transfer(lots.Transfer{From: lots.Of(lots.Shipment, r.Shipment), To: r.Place(), Mass: r.Mass, Reason: r.Reason, Of: r.Of}); err != nil {
		return r, err
	}
	if r, err = w.Lots.Return(w.ctx, w.tx, r.ID); err != nil {
		return r, err
	}
	w.facts = append(w.facts, feed.Fact{
		Aggregate: string(r.Place()), OccurTime: r.Time, Payload: &inventoryv1.ReturnReceived{CustomerReturn: present.Return(r, w.Unit)},
	})
	return r, nil
}

// called is what people call a place.
func (w *work) called(p lots.Place) (string, error) {
	names, err := w.Lots.PlaceNames(w.ctx, w.tx, []lots.Place{p})
	if err != nil || len(names) == 0 {
		return string(p), err
	}
	return lots.Called(p, names[0].As), nil
}

// DecideReturn is what becomes of honey that came back, or of a part of it. Charge is the tank bulk honey is poured into.
type DecideReturn struct {
	Return   uuid.UUID
	Charge   uuid.UUID
	Decision lots.Decision
}

// DecideReturn records it.
func (a *App) DecideReturn(ctx context.Context, tx pgx.Tx, c DecideReturn) (lots.Return, []feed.Fact, error) {
	w := a.work(ctx, tx, c.Decision.Decider)
	r, err := a.Lots.Return(ctx, tx, c.Return)
	if err != nil {
		return r, nil, err
	}
	to := lots.At(lots.Loss, lots.Destroyed)
	if c.Decision.Outcome == lots.Restocked {
		if to, err = r.RestocksTo(c.Charge); err != nil {
			return r, nil, err //nolint:wrapcheck // says what is missing
		}
	}
	if err := a.Lots.LockPlaces(ctx, tx, r.Place(), to); err != nil {
		return r, nil, err
	}
	if r, err = a.Lots.Return(ctx, tx, c.Return); err != nil {
		return r, nil, err
	}
	d, err := r.Decide(c.Decision, a.Unit)
	if err != nil {
		return r, nil, err //nolint:wrapcheck // says why not
	}
	if d.To = to; d.Outcome == lots.Restocked {
		if err := w.restock(r, d); err != nil {
			return r, nil, err
		}
	}
	t, err := w.transfer(lots.Transfer{From: r.Place(), To: d.To, Mass: d.Mass, Reason: d.Reason})
	if err != nil {
		return r, nil, err
	}
	d.ID = t.ID
	if err := a.Lots.AddDecision(ctx, tx, r, d); err != nil {
		return r, nil, err
	}
	if r, err = a.Lots.Return(ctx, tx, r.ID); err != nil {
		return r, nil, err
	}
	return r, append(w.facts, feed.Fact{
		Aggregate: string(r.Place()), OccurTime: t.Time, Payload: &inventoryv1.ReturnDecided{CustomerReturn: present.Return(r, a.Unit)},
	}), nil
}

// restock checks that honey may go where it is for sale again, which is locked, and counts the jars there.
func (w *work) restock(r lots.Return, d lots.Decision) error {
	if err := w.unheld(r, d.To); err != nil {
		return err
	}
	id := uuid.MustParse(d.To.ID())
	if d.To.Kind() == lots.Charge {
		f, err := w.inTank(id, "filled")
		if err != nil {
			return err
		}
		return w.room(f, d.Mass)
	}
	run, err := w.Lots.Run(w.ctx, w.tx, id)
	if err != nil {
		return err
	}
	if err := run.Free("restocked"); err != nil {
		return err
	}
	return w.Lots.PutJars(w.ctx, w.tx, id, d.Jars)
}

// unheld fails while anything that honey which came back is made of is held: it was out of the house when the hold spread.
func (w *work) unheld(r lots.Return, to lots.Place) error {
	made, err := w.madeOf(w.ctx, w.tx, r.Place())
	if err != nil {
		return err
	}
	holds, err := w.Lots.HoldsOn(w.ctx, w.tx, made, r.Of)
	if err != nil {
		return err
	}
	if h := lots.Barring(holds, to.Kind()); h != nil {
		return &stock.HeldError{What: "something in " + r.Called(), Hold: *h, Action: "restocked"}
	}
	return nil
}

func (a *App) madeOf(ctx context.Context, q pg.Querier, place lots.Place) ([]lots.Place, error) {
	a.genealogy.Lock()
	defer a.genealogy.Unlock()
	if _, err := a.genealogy.refresh(ctx, q, a.Lots, a.now()); err != nil {
		return nil, err
	}
	return a.genealogy.book.MadeOf(place), nil
}
