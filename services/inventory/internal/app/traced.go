package app

import (
	"context"
	"maps"
	"slices"

	"github.com/google/uuid"

	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/sale"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/pg"
)

// Traced is the answer to a recall.
type Traced struct {
	*lots.Trace
	// Barrels are the delivered ones among the sources, by place.
	Barrels map[lots.Place]stock.Item
	// Shipments are those honey went out with, by place, all of it came back from or not.
	Shipments map[lots.Place]Shipment
	// Contacts are whom to call for each of them, by place.
	Contacts map[lots.Place]sale.Customer
	// Omitted is how many transfers, the oldest, are not listed.
	Omitted int
	// Known is what people know the places by that the answer names.
	Known []PlaceName
}

// PlaceName is what people know a container, a charge or a lot by.
type PlaceName struct {
	Place lots.Place
	// As is the tag of the container, the code of the charge, or the code on the jars.
	As string
	// BestBy is the day a lot is best by, "2029-02-28"; empty for others, and where it has none.
	BestBy string
}

// Received is what a customer has to look for: jars of a lot, or honey as it is with what it left in.
type Received struct {
	Place      lots.Place
	Jars       int64
	Containers string
}

// Received lists what of the asked honey was in a shipment, by where it came from. Where transfers are left out of the answer it lists
// all that was in it: too much is looked for rather than too little.
func (t Traced) Received(shipment lots.Place) []Received {
	from := map[lots.Place]bool{}
	for _, x := range t.Transfers {
		if x.To == shipment {
			from[x.From] = true
		}
	}
	var out []Received
	at := map[lots.Place]int{}
	s := t.Shipments[shipment]
	for _, l := range s.Lines {
		place := lots.Of(lots.Pack, l.Lot)
		n, seen := at[place]
		switch {
		case seen:
			out[n].Jars += l.Jars
		case from[place] || t.Omitted > 0:
			at[place] = len(out)
			out = append(out, Received{Place: place, Jars: l.Jars})
		}
	}
	for _, b := range s.Bulk {
		if from[b.Place] || t.Omitted > 0 {
			out = append(out, Received{Place: b.Place, Containers: b.Containers})
		}
	}
	return out
}

// places are all the answer names.
func (t Traced) places() []lots.Place {
	named := map[lots.Place]bool{t.Place: true}
	for _, parts := range [][]lots.Part{t.Sources, t.Ends} {
		for _, p := range parts {
			named[p.Place] = true
		}
	}
	for _, x := range t.Transfers {
		named[x.From], named[x.To] = true, true
	}
	for shipment := range t.Shipments {
		for _, r := range t.Received(shipment) {
			named[r.Place] = true
		}
	}
	return slices.Sorted(maps.Keys(named))
}

// shipments reads those honey ended with.
func (a *App) shipments(ctx context.Context, q pg.Querier, ends []lots.Part) (map[lots.Place]Shipment, error) {
	var ids []uuid.UUID
	for _, end := range ends {
		if end.Place.Kind() == lots.Shipment {
			ids = append(ids, uuid.MustParse(end.Place.ID()))
		}
	}
	found, err := a.Lots.ShipmentsNamed(ctx, q, ids)
	out := make(map[lots.Place]Shipment, len(found))
	for _, s := range found {
		out[lots.Of(lots.Shipment, s.ID)] = s
	}
	return out, err
}

// contacts finds who is called for the shipments of a trace: as is known now of a customer on record, else as the shipment says.
func (a *App) contacts(ctx context.Context, q pg.Querier, shipments map[lots.Place]Shipment) (map[lots.Place]sale.Customer, error) {
	var ids []string
	for _, s := range shipments {
		if s.Known != "" {
			ids = append(ids, s.Known)
		}
	}
	found, err := a.Lots.CustomersNamed(ctx, q, ids)
	if err != nil {
		return nil, err
	}
	known := map[string]sale.Customer{}
	for _, c := range found {
		known[c.ID] = c
	}
	out := map[lots.Place]sale.Customer{}
	for place, s := range shipments {
		out[place] = sale.Customer{Contact: s.Contact}
		if s.Known != "" {
			out[place] = known[s.Known]
		}
	}
	return out, nil
}
