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
)

// BuildPallet stacks jars.
func (a *App) BuildPallet(ctx context.Context, tx pgx.Tx, p lots.Pallet) (lots.Pallet, []feed.Fact, error) {
	w := a.work(ctx, tx, p.Builder)
	p.ID, p.Time = uuid.New(), a.now()
	if err := w.Lots.LockPlaces(ctx, tx, placesOf(p)...); err != nil {
		return p, nil, err
	}
	for n := range p.Lines {
		l := &p.Lines[n]
		r, loose, err := w.loose(l.Lot)
		if err != nil {
			return p, nil, err
		}
		if err := r.Stack(l.Jars, loose); err != nil {
			return p, nil, err
		}
		l.ID = uuid.New()
	}
	if err := a.Lots.AddPallet(ctx, tx, &p, a.Prefix); err != nil {
		return p, nil, err
	}
	p, err := a.Lots.Pallet(ctx, tx, p.ID.String())
	if err != nil {
		return p, nil, err
	}
	return p, []feed.Fact{{Aggregate: p.Name(), OccurTime: p.Time, Payload: &inventoryv1.PalletBuilt{Pallet: present.Pallet(p)}}}, nil
}

func placesOf(pallets ...lots.Pallet) (out []lots.Place) {
	for _, p := range pallets {
		for _, l := range p.Lines {
			out = append(out, lots.Of(lots.Pack, l.Lot))
		}
	}
	return out
}

// loose reads a lot, which must be locked, and how many of its jars stand on no pallet.
func (w *work) loose(id uuid.UUID) (lots.Run, int64, error) {
	r, err := w.Lots.Run(w.ctx, w.tx, id)
	if err != nil {
		return r, 0, err
	}
	stacked, err := w.Lots.Stacked(w.ctx, w.tx, id)
	return r, r.OnHand - stacked, err
}

// BreakPallet takes a pallet apart.
func (a *App) BreakPallet(ctx context.Context, tx pgx.Tx, id uuid.UUID, actor, reason string) (lots.Pallet, []feed.Fact, error) {
	w := a.work(ctx, tx, actor)
	p, err := w.pallet(id.String(), "taken apart")
	if err != nil {
		return p, nil, err
	}
	now := a.now()
	p.Breaker, p.Why = actor, reason
	if err := a.Lots.BreakPallet(ctx, tx, p, stock.Release{Releaser: actor, Reason: reason, Time: now}); err != nil {
		return p, nil, err
	}
	return p, []feed.Fact{{Aggregate: p.Name(), OccurTime: now, Payload: &inventoryv1.PalletBroken{Pallet: present.Pallet(p)}}}, nil
}

// pallet locks the lots of a pallet that is in the house. What stands on it never changes, so it may be read before.
func (w *work) pallet(idOrCode, action string) (lots.Pallet, error) {
	p, err := w.Lots.Pallet(w.ctx, w.tx, idOrCode)
	if err != nil {
		return p, err
	}
	if err := w.Lots.LockPlaces(w.ctx, w.tx, placesOf(p)...); err != nil {
		return p, err
	}
	if p, err = w.Lots.Pallet(w.ctx, w.tx, idOrCode); err != nil {
		return p, err
	}
	return p, p.InHouse(action) //nolint:wrapcheck // says where it is
}

// loadPallets reads the pallets of a shipment by name or code.
func (w *work) loadPallets(codes []string) ([]lots.Pallet, error) {
	var out []lots.Pallet
	seen := map[uuid.UUID]bool{}
	for _, code := range codes {
		p, err := w.Lots.Pallet(w.ctx, w.tx, code)
		if err != nil {
			return nil, err
		}
		if seen[p.ID] {
			return nil, &stock.StateError{Resource: p.Name(), Called: "pallet " + p.Called(), State: "NAMED_TWICE", Action: "shipped twice"}
		}
		seen[p.ID] = true
		out = append(out, p)
	}
	return out, nil
}

// shipPallets takes whole pallets: their lots are locked, so none of them can leave or be taken apart meanwhile.
func (w *work) shipPallets(s *Shipment) error {
	for n := range s.Pallets {
		p, err := w.Lots.Pallet(w.ctx, w.tx, s.Pallets[n].ID.String())
		if err != nil {
			return err
		}
		if err := p.InHouse("shipped"); err != nil {
			return err //nolint:wrapcheck // says where it is
		}
		for _, l := range p.Lines {
			line := ShipmentLine{Lot: l.Lot, Jars: l.Jars}
			if err := w.shipJars(s.ID, &line); err != nil {
				return err
			}
			s.Lines = append(s.Lines, line)
		}
	}
	return nil
}
