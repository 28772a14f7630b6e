package warehouse

import (
	"slices"
	"strings"

	"github.com/google/uuid"

	"barrelhead.example/gateway/internal/web/site"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/apierr"
)

// tagged finds the barrels in drums of these tags, all in one question. A drum comes back every year: the barrel on hand is meant, or the
// last one where none is.
func (s room) tagged(v *site.Visit, tags []string) (map[string]*inventoryv1.StockItem, error) {
	barrels := map[string]*inventoryv1.StockItem{}
	if len(tags) == 0 {
		return barrels, nil
	}
	found, err := s.Inventory.ListStock(v.Ctx, &inventoryv1.ListStockRequest{PageSize: site.MostBarrels, DrumTags: tags[:min(len(tags), site.MostBarrels)]})
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
func (s room) scanned(v *site.Visit, code string) (string, error) {
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
func (s room) scannedAll(v *site.Visit, typed string) ([]string, error) {
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
