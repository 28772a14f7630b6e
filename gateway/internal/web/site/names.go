package site

import (
	"slices"
	"strings"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

// MostBarrels are asked for at once; of a longer list the rest is shown by name.
const MostBarrels = 1000

// BarrelsOf reads the barrels a page names, all in one question. One that cannot be read is shown by its name alone.
func (s *Site) BarrelsOf(v *Visit, names []string) []*inventoryv1.StockItem {
	known := map[string]*inventoryv1.StockItem{}
	if len(names) > 0 {
		found, _ := s.Inventory.ListStock(v.Ctx, &inventoryv1.ListStockRequest{PageSize: MostBarrels, StockItems: names[:min(len(names), MostBarrels)]}) // without an answer the names stay
		for _, item := range found.GetStockItems() {
			known[item.GetName()] = item
		}
	}
	items := make([]*inventoryv1.StockItem, len(names))
	for n, name := range names {
		if items[n] = known[name]; items[n] == nil {
			items[n] = &inventoryv1.StockItem{Name: name, DrumTag: Thing(name)}
		}
	}
	return items
}

// TagsOf gives barrels the names people know them by.
func (s *Site) TagsOf(v *Visit, names []string) map[string]string {
	tags := map[string]string{}
	for _, item := range s.BarrelsOf(v, names) {
		tags[item.GetName()] = item.GetDrumTag()
	}
	return tags
}

// MostPlacesAsked of a page are asked for one by one; a further one keeps its number.
const MostPlacesAsked = 60

// NamesOf are what people call places honey can be in; empty for one that cannot be read.
func (s *Site) NamesOf(v *Visit, places []string) map[string]string {
	var barrels []string
	for _, place := range places {
		if strings.HasPrefix(place, "stock/") && !slices.Contains(barrels, place) {
			barrels = append(barrels, place)
		}
	}
	names := s.TagsOf(v, barrels)
	asked := 0
	for _, place := range places {
		if _, known := names[place]; known || asked == MostPlacesAsked {
			continue
		}
		asked++
		names[place] = s.placeName(v, place)
	}
	return names
}

// byName has a message speak of barrels, charges and lots by what people call them, where its reader may know that.
func (s *Site) byName(v *Visit, message string) string {
	var places []string
	for _, name := range numbered.FindAllString(message, -1) {
		switch kind, _, _ := strings.Cut(name, "/"); kind {
		case "stock", "charges", "packLots":
			places = append(places, name)
		}
	}
	names := s.NamesOf(v, places)
	return numbered.ReplaceAllStringFunc(message, func(name string) string {
		called := names[name]
		switch kind, _, _ := strings.Cut(name, "/"); {
		case called == "" || called == Thing(name):
			return name
		case kind == "stock":
			return "barrel " + called
		case kind == "packLots":
			return "lot " + called
		case kind == "charges":
			return "charge " + called
		default:
			return called
		}
	})
}

func (s *Site) placeName(v *Visit, name string) string {
	switch kind, id, _ := strings.Cut(name, "/"); kind {
	case "charges":
		charge, _ := s.ReadCharge(v, name) // without an answer it keeps its number
		return charge.GetCode()
	case "packLots":
		lot, _ := s.Inventory.GetPackLot(v.Ctx, &inventoryv1.GetPackLotRequest{Name: name})
		return lot.GetCode()
	case "returns":
		return "Sent back, " + id[:min(8, len(id))]
	case "losses":
		return "Lost: " + words(id)
	default:
		return ""
	}
}

// PlaceAddress is the page of a place honey can be in; of one without a page, the trace.
func PlaceAddress(name string) string {
	kind, id, _ := strings.Cut(name, "/")
	switch kind {
	case "stock", "charges", "tanks", "pools", "runs", "pallets":
		return "/" + kind + "/" + id
	case "packLots":
		return "/lots/" + id
	case "shipments":
		return "/shipments"
	case "returns":
		return "/returns?all=1"
	default:
		return "/balance"
	}
}

// ReadCharge is what a tank was filled with, by its name.
func (s *Site) ReadCharge(v *Visit, name string) (*inventoryv1.Charge, error) {
	return s.Inventory.GetCharge(v.Ctx, &inventoryv1.GetChargeRequest{Name: name})
}
