package app

import (
	"context"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/sale"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/quantity"
)

// Ship records what left for a customer, or for the order it names; lines say lot and jars, or a barrel or charge and how much of it, and pallets are named by
// id or code.
func (a *App) Ship(ctx context.Context, tx pgx.Tx, s Shipment, pallets []string) (Shipment, []feed.Fact, error) {
	w := a.work(ctx, tx, s.Shipper)
	s.ID, s.Time, s.Lines, s.Bulk = uuid.New(), a.now(), slices.Clone(s.Lines), slices.Clone(s.Bulk)
	var err error
	var o sale.Order
	if s.Order != uuid.Nil {
		o, err = w.forOrder(&s)
	} else {
		err = w.forCustomer(&s)
	}
	if err != nil {
		return s, nil, err
	}
	last, err := a.Lots.Carrier(ctx, tx, s.Carrier.Name)
	if err != nil {
		return s, nil, err
	}
	if s.Carrier, err = s.Carrier.Reached(last); err != nil {
		return s, nil, err //nolint:wrapcheck // says what is missing
	}
	if s.Pallets, err = w.loadPallets(pallets); err != nil {
		return s, nil, err
	}
	if err := w.lockShipped(s); err != nil {
		return s, nil, err
	}
	for n := range s.Lines {
		if err := w.shipLoose(s.ID, &s.Lines[n]); err != nil {
			return s, nil, err
		}
	}
	if err := w.shipPallets(&s); err != nil {
		return s, nil, err
	}
	for n := range s.Bulk {
		if err := w.shipBulk(s.ID, &s.Bulk[n]); err != nil {
			return s, nil, err
		}
	}
	if s.Order != uuid.Nil {
		if err := w.within(o, s); err != nil {
			return s, nil, err
		}
	}
	if err := a.Lots.AddShipment(ctx, tx, s); err != nil {
		return s, nil, err
	}
	return s, append(w.facts, feed.Fact{
		Aggregate: string(lots.Of(lots.Shipment, s.ID)), OccurTime: s.Time,
		Payload: &inventoryv1.Shipped{Shipment: ShipmentMessage(s, a.Unit)},
	}), nil
}

// lockShipped takes the locks in the order of everybody: barrels, then charges and lots.
func (w *work) lockShipped(s Shipment) error {
	var barrels, vessels []lots.Place
	for _, l := range s.Lines {
		vessels = append(vessels, lots.Of(lots.Pack, l.Lot))
	}
	vessels = append(vessels, placesOf(s.Pallets...)...)
	for _, b := range s.Bulk {
		if b.Place.Kind() == lots.Barrel {
			barrels = append(barrels, b.Place)
			continue
		}
		vessels = append(vessels, b.Place)
	}
	for _, b := range slices.Sorted(slices.Values(barrels)) {
		if _, err := w.Stock.Lock(w.ctx, w.tx, uuid.MustParse(b.ID())); err != nil {
			return err
		}
	}
	return w.Lots.LockPlaces(w.ctx, w.tx, vessels...)
}

// shipLoose takes jars that stand on no pallet.
func (w *work) shipLoose(shipment uuid.UUID, l *ShipmentLine) error {
	r, loose, err := w.loose(l.Lot)
	if err != nil {
		return err
	}
	if loose < l.Jars && l.Jars <= r.OnHand {
		return &lots.LooseError{Run: r, Loose: loose, Asked: l.Jars}
	}
	return w.shipJars(shipment, l)
}

// shipJars reads the lot anew for each line: an earlier one may be of the same lot.
func (w *work) shipJars(shipment uuid.UUID, l *ShipmentLine) error {
	r, err := w.Lots.Run(w.ctx, w.tx, l.Lot)
	if err != nil {
		return err
	}
	if err := r.Free("shipped"); err != nil {
		return err
	}
	if err := w.fullWeight(r); err != nil {
		return err
	}
	if l.Mass, err = r.Take(l.Jars); err != nil {
		return err
	}
	return w.jars(r, l.Jars, l.Mass, lots.Of(lots.Shipment, shipment))
}

// shipBulk takes a barrel, or part of it, or honey out of a tank.
func (w *work) shipBulk(shipment uuid.UUID, b *BulkLine) error {
	id, err := uuid.Parse(b.Place.ID())
	if err != nil {
		return &stock.NotFoundError{Resource: string(b.Place)}
	}
	if b.Place.Kind() == lots.Barrel {
		_, b.Mass, err = w.barrel(id, b.Mass, "shipped")
	} else {
		err = w.outOfTank(id, b)
	}
	if err != nil {
		return err
	}
	_, err = w.pour(b.Place, lots.Of(lots.Shipment, shipment), b.Mass, b.Containers)
	return err
}

func (w *work) outOfTank(id uuid.UUID, b *BulkLine) error {
	f, err := w.inTank(id, "shipped")
	if err != nil {
		return err
	}
	if b.Mass == 0 {
		b.Mass = f.Content
	}
	if b.Mass == 0 {
		return &stock.StateError{Resource: string(b.Place), Called: f.Called(), State: "EMPTY", Action: "shipped"}
	}
	return w.enough(b.Place, f.Called(), f.Content, b.Mass)
}

// jars moves jars of a lot out of the house.
func (w *work) jars(r lots.Run, jars int64, mass quantity.Mass, to lots.Place) error {
	if err := w.Lots.TakeJars(w.ctx, w.tx, r.ID, jars); err != nil {
		return err
	}
	_, err := w.pour(r.Place(), to, mass, "")
	return err
}

// ShipmentMessage shows a shipment.
func ShipmentMessage(s Shipment, unit quantity.Unit) *inventoryv1.Shipment {
	lines := make([]present.ShipmentLine, len(s.Lines))
	for n, l := range s.Lines {
		lines[n] = present.ShipmentLine(l)
	}
	m := present.Shipment(s.ID, s.Customer, s.Carrier.Name, s.Shipper, s.Time, lines, unit)
	m.CarrierAddress, m.CarrierTelephone = s.Carrier.Address, s.Carrier.Telephone
	if s.Order != uuid.Nil {
		m.Order = sale.Order{ID: s.Order}.Name()
	}
	if m.RecallContact = s.Contact; s.Known != "" {
		m.CustomerOnRecord = sale.Customer{ID: s.Known}.Name()
	}
	for _, b := range s.Bulk {
		m.BulkLines = append(m.BulkLines, present.BulkLine(b.Place, b.Mass, b.Containers, unit))
	}
	for _, p := range s.Pallets {
		m.Pallets, m.PalletCodes = append(m.Pallets, p.Name()), append(m.PalletCodes, p.Called())
	}
	return m
}

// SplitBarrel fills smaller containers from a barrel.
type SplitBarrel struct {
	Barrel uuid.UUID
	Parts  []SplitPart
	Actor  string
}

// SplitPart is one of them.
type SplitPart struct {
	DrumTag string
	Net     quantity.Mass
}

// SplitBarrel records the containers and what went into them. It returns them and what is left in the barrel.
func (a *App) SplitBarrel(ctx context.Context, tx pgx.Tx, c SplitBarrel) ([]Split, quantity.Mass, []feed.Fact, error) {
	w := a.work(ctx, tx, c.Actor)
	var total quantity.Mass
	for _, p := range c.Parts {
		total += p.Net
	}
	item, _, err := w.barrel(c.Barrel, total, "split")
	if err != nil {
		return nil, 0, nil, err
	}
	var splits []Split
	for _, p := range c.Parts {
		s := Split{Barrel: uuid.New(), Root: item.Root, Parent: item.Barrel, DrumTag: p.DrumTag, Net: p.Net, Actor: c.Actor, Time: a.now()}
		if err := a.Lots.AddSplit(ctx, tx, s); err != nil {
			return nil, 0, nil, err
		}
		if _, err := w.pour(lots.Of(lots.Barrel, item.Barrel), lots.Of(lots.Barrel, s.Barrel), p.Net, ""); err != nil {
			return nil, 0, nil, err
		}
		w.facts = append(w.facts, feed.Fact{
			Aggregate: stock.Name(s.Barrel), OccurTime: s.Time,
			Payload: &inventoryv1.BarrelSplit{StockItem: stock.Name(s.Barrel), Barrel: present.BarrelName(s.Root)},
		})
		splits = append(splits, s)
	}
	return splits, item.Remaining() - total, w.facts, nil
}
