package app

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/quantity"
)

// work is one command on its way: the transaction, who acts, and the facts that follow.
type work struct {
	*App
	ctx   context.Context //nolint:containedctx // a work lives as long as its transaction
	tx    pgx.Tx
	actor string
	facts []feed.Fact
}

func (a *App) work(ctx context.Context, tx pgx.Tx, actor string) *work {
	return &work{App: a, ctx: ctx, tx: tx, actor: actor}
}

// pour records a transfer and the fact of it. What is there to be taken was checked by the caller, who holds the locks.
func (w *work) pour(from, to lots.Place, mass quantity.Mass, reason string) (lots.Transfer, error) {
	return w.transfer(lots.Transfer{From: from, To: to, Mass: mass, Reason: reason})
}

func (w *work) transfer(t lots.Transfer) (lots.Transfer, error) {
	t.ID, t.Actor, t.Time = uuid.New(), w.actor, w.now()
	if err := w.Lots.Pour(w.ctx, w.tx, &t); err != nil {
		return t, err
	}
	w.facts = append(w.facts, feed.Fact{
		Aggregate: string(t.From), OccurTime: t.Time, Payload: &inventoryv1.HoneyTransferred{Transfer: present.Transfer(t, w.Unit)},
	})
	return t, nil
}

// barrel locks a barrel that is free to be used and has mass left in it; mass 0 asks for all of it.
func (w *work) barrel(id uuid.UUID, mass quantity.Mass, action string) (stock.Item, quantity.Mass, error) {
	item, err := w.Stock.Lock(w.ctx, w.tx, id)
	if err != nil {
		return item, 0, err
	}
	if err := item.Free(action); err != nil {
		return item, 0, err
	}
	if mass == 0 {
		mass = item.Remaining()
	}
	return item, mass, w.enough(lots.Of(lots.Barrel, id), item.Called(), item.Remaining(), mass)
}

// enough fails with an *OverdrawnError when a place, which people call so, has less than is asked of it.
func (w *work) enough(place lots.Place, called string, has, asked quantity.Mass) error {
	if asked > has {
		return &lots.OverdrawnError{Place: place, Called: called, Has: has, Asked: asked, Unit: w.Unit}
	}
	return nil
}

// charge locks a charge.
func (w *work) charge(id uuid.UUID) (lots.Filling, error) {
	if err := w.Lots.LockPlaces(w.ctx, w.tx, lots.Of(lots.Charge, id)); err != nil {
		return lots.Filling{}, err
	}
	return w.Lots.Charge(w.ctx, w.tx, id)
}

// openCharge locks a charge that is not closed.
func (w *work) openCharge(id uuid.UUID) (lots.Filling, error) {
	f, err := w.charge(id)
	if err == nil && f.Closed {
		err = &lots.ClosedError{Place: f.Place(), Called: f.Called()}
	}
	return f, err
}

// inTank locks a charge honey may go into or out of now; action completes "… cannot be …".
func (w *work) inTank(id uuid.UUID, action string) (lots.Filling, error) {
	f, err := w.charge(id)
	if err != nil {
		return f, err
	}
	if err := f.InTank(); err != nil {
		return f, err
	}
	return f, f.Free(action)
}

// room fails when a tank would hold more than it can.
func (w *work) room(f lots.Filling, more quantity.Mass) error {
	tank, err := w.Lots.Tank(w.ctx, w.tx, f.Tank)
	if err != nil {
		return err
	}
	if f.Content+f.Left+more > tank.Capacity {
		return &FullError{Tank: tank, Content: f.Content + f.Left, More: more, Unit: w.Unit}
	}
	return nil
}

// FullError means that a tank cannot hold so much.
type FullError struct {
	Tank          Tank
	Content, More quantity.Mass
	Unit          quantity.Unit
}

// Error gives the numbers.
func (e *FullError) Error() string {
	return fmt.Sprintf("tank %s holds %s of at most %s: %s more does not fit", e.Tank.ID, e.Content.Say(e.Unit), e.Tank.Capacity.Say(e.Unit), e.More.Say(e.Unit))
}

// Reason is the wire reason.
func (e *FullError) Reason() string { return "STATE_FORBIDS" }

// Metadata repeats the numbers.
func (e *FullError) Metadata() map[string]string {
	return map[string]string{"resource": "tanks/" + e.Tank.ID, "state": "FULL", "capacity": e.Tank.Capacity.String(), "content": e.Content.String()}
}
