package web

import (
	"slices"
	"strings"

	"github.com/google/uuid"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/apierr"
)

// mostBarrels are asked for at once; of a longer list the rest is shown by name.
const mostBarrels = 1000

// barrelsOf reads the barrels a page names, all in one question. One that cannot be read is shown by its name alone.
func (s *site) barrelsOf(v *visit, names []string) []*inventoryv1.StockItem {
	known := map[string]*inventoryv1.StockItem{}
	if len(names) > 0 {
		found, _ := s.inventory.ListStock(v.ctx, &inventoryv1.ListStockRequest{PageSize: mostBarrels, StockItems: names[:min(len(names), mostBarrels)]}) // without an answer the names stay
		for _, item := range found.GetStockItems() {
			known[item.GetName()] = item
		}
	}
	items := make([]*inventoryv1.StockItem, len(names))
	for n, name := range names {
		if items[n] = known[name]; items[n] == nil {
			items[n] = &inventoryv1.StockItem{Name: name, DrumTag: thing(name)}
		}
	}
	return items
}

// tagsOf gives barrels the names people know them by.
func (s *site) tagsOf(v *visit, names []string) map[string]string {
	tags := map[string]string{}
	for _, item := range s.barrelsOf(v, names) {
		tags[item.GetName()] = item.GetDrumTag()
	}
	return tags
}

// mostPlacesAsked of a page are asked for one by one; a further one keeps its number.
const mostPlacesAsked = 60

// namesOf are what people call places honey can be in; empty for one that cannot be read.
func (s *site) namesOf(v *visit, places []string) map[string]string {
	var barrels []string
	for _, place := range places {
		if strings.HasPrefix(place, "stock/") && !slices.Contains(barrels, place) {
			barrels = append(barrels, place)
		}
	}
	names := s.tagsOf(v, barrels)
	asked := 0
	for _, place := range places {
		if _, known := names[place]; known || asked == mostPlacesAsked {
			continue
		}
		asked++
		names[place] = s.placeName(v, place)
	}
	return names
}

// byName has a message speak of barrels, charges and lots by what people call them, where its reader may know that.
func (s *site) byName(v *visit, message string) string {
	var places []string
	for _, name := range numbered.FindAllString(message, -1) {
		switch kind, _, _ := strings.Cut(name, "/"); kind {
		case "stock", "charges", "packLots":
			places = append(places, name)
		}
	}
	names := s.namesOf(v, places)
	return numbered.ReplaceAllStringFunc(message, func(name string) string {
		called := names[name]
		switch kind, _, _ := strings.Cut(name, "/"); {
		case called == "" || called == thing(name):
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

func (s *site) placeName(v *visit, name string) string {
	switch kind, id, _ := strings.Cut(name, "/"); kind {
	case "charges":
		charge, _ := s.readCharge(v, name) // without an answer it keeps its number
		return charge.GetCode()
	case "packLots":
		lot, _ := s.inventory.GetPackLot(v.ctx, &inventoryv1.GetPackLotRequest{Name: name})
		return lot.GetCode()
	case "returns":
		return "Sent back, " + id[:min(8, len(id))]
	case "losses":
		return "Lost: " + words(id)
	default:
		return ""
	}
}

// tagged finds the barrels in drums of these tags, all in one question. A drum comes back every year: the barrel on hand is meant, or the
// last one where none is.
func (s *site) tagged(v *visit, tags []string) (map[string]*inventoryv1.StockItem, error) {
	barrels := map[string]*inventoryv1.StockItem{}
	if len(tags) == 0 {
		return barrels, nil
	}
	found, err := s.inventory.ListStock(v.ctx, &inventoryv1.ListStockRequest{PageSize: mostBarrels, DrumTags: tags[:min(len(tags), mostBarrels)]})
	for _, item := range found.GetStockItems() { // the oldest first
		if before := barrels[item.GetDrumTag()]; before == nil || onHand(item) || !onHand(before) {
			barrels[item.GetDrumTag()] = item
		}
	}
	return barrels, err
}

func onHand(item *inventoryv1.StockItem) bool {
	return item.GetState() == inventoryv1.StockState_STOCK_STATE_ON_HAND
}

// scanned finds a barrel in stock by what a scanner reads: the tag of its drum, or its own id.
func (s *site) scanned(v *visit, code string) (string, error) {
	names, err := s.scannedAll(v, code)
	if err == nil && len(names) != 1 {
		err = apierr.Field("drum_tag", "must be one tag; scan it again")
	}
	if err != nil {
		return "", err
	}
	return names[0], nil
}

// scannedAll finds barrels typed or pasted with commas, spaces or lines between them.
func (s *site) scannedAll(v *visit, typed string) ([]string, error) {
	codes := strings.FieldsFunc(typed, func(r rune) bool { return strings.ContainsRune(", ;\n\r\t", r) })
	var tags []string
	for n, code := range codes {
		code = strings.TrimPrefix(code, "stock/")
		if _, err := uuid.Parse(code); err == nil {
			codes[n] = "stock/" + strings.ToLower(code)
			continue
		}
		codes[n] = strings.ToUpper(code)
		tags = append(tags, codes[n])
	}
	barrels, err := s.tagged(v, tags)
	if err != nil {
		return nil, err
	}
	for n, code := range codes {
		if !slices.Contains(tags, code) {
			continue
		}
		if barrels[code] == nil {
			return nil, apierr.NotFound("drums/" + code)
		}
		codes[n] = barrels[code].GetName()
	}
	return codes, nil
}
