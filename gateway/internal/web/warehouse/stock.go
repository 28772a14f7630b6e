package warehouse

import (
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	"barrelhead.example/gateway/internal/wording"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/apierr"
)

// stock is all that is on hand, by source; of one source it is every kind, each with its barrels one step away.
func (s room) stock(v *site.Visit) (site.View, error) {
	found, err := s.Inventory.SummarizeStock(v.Ctx, &inventoryv1.SummarizeStockRequest{})
	if err != nil {
		return site.View{}, err
	}
	totals, source, page := found.GetTotals(), v.URL.Query().Get("source"), "stock"
	if source != "" {
		totals = slices.DeleteFunc(totals, func(t *inventoryv1.StockTotal) bool { return t.GetVariety() != source })
		page = "stocksource"
	}
	var barrels, held int32
	for _, t := range totals {
		barrels += t.GetBarrels()
		held += t.GetHeldBarrels()
	}
	drawn := site.DrawBars(totals)
	for n, row := range drawn.Rows {
		if row.Variety != source { // which is this page
			drawn.Rows[n].Address = "/stock?" + url.Values{"source": {row.Variety}}.Encode()
		}
	}
	return site.View{Page: page, Title: "Stock", Data: map[string]any{
		"Totals": totals, "Bars": drawn, "Source": source, "Barrels": barrels, "Held": held, "MayList": v.MayCall(listStock), "MayMove": v.MayCall(moveBarrel), "Unknown": v.URL.Query().Get("unknown"),
	}}, nil
}

// kindAddress lists the barrels of one kind; those that are not graded cannot be asked for alone.
func kindAddress(t *inventoryv1.StockTotal) string {
	if t.GetColorClass() == "" || t.GetGrade() == "" {
		return ""
	}
	return "/stock/list?" + url.Values{
		"variety": {t.GetVariety()}, "crop_year": {strconv.Itoa(int(t.GetCropYear()))}, "color_class": {t.GetColorClass()}, "grade": {t.GetGrade()},
	}.Encode()
}

// findBarrel takes a scanned tag to its barrel.
func (s room) findBarrel(v *site.Visit) (site.View, error) {
	f := v.Form()
	item, err := s.scanned(v, f.Value("drum_tag"))
	if f.Refused(v, err) {
		return site.View{GoTo: "/stock?" + url.Values{"unknown": {f.Problem}}.Encode()}, nil
	}
	return site.View{GoTo: "/" + item}, err
}

// stockFilters are the query of the list, passed on as they are.
var stockFilters = []string{"variety", "crop_year", "color_class", "grade", "location"}

func (s room) stockList(v *site.Visit) (site.View, error) {
	f := v.Form()
	found, err := s.askedStock(v, f)
	if err != nil && !f.Refused(v, err) {
		return site.View{}, err
	}
	var only []string
	for _, name := range stockFilters {
		if value := f.Value(name); value != "" {
			only = append(only, wording.Words(name)+" "+wording.Words(value))
		}
	}
	if f.Value("held") != "" {
		only = append(only, "held")
	}
	return site.View{Page: "stocklist", Title: "Barrels in stock", Data: map[string]any{
		"Items": found.GetStockItems(), "Only": strings.Join(only, ", "), "Form": f, "Next": site.NextPage(v, found.GetNextPageToken()),
	}}, nil
}

func (s room) askedStock(v *site.Visit, f *site.Form) (*inventoryv1.ListStockResponse, error) {
	year, err := strconv.ParseInt(cmp.Or(f.Value("crop_year"), "0"), 10, 32)
	if err != nil {
		return nil, apierr.Field("crop_year", fmt.Sprintf("%q is not a year such as 2026", f.Value("crop_year")))
	}
	return s.Inventory.ListStock(v.Ctx, &inventoryv1.ListStockRequest{
		PageSize: 50, PageToken: f.Value("page"), Variety: strings.ToLower(f.Value("variety")), CropYear: int32(year), ColorClass: f.Value("color_class"),
		Grade: strings.ToUpper(f.Value("grade")), Location: strings.ToUpper(f.Value("location")), HeldOnly: f.Value("held") != "",
	})
}

func (s room) readItem(v *site.Visit, id string) (*inventoryv1.StockItem, error) {
	return s.Inventory.GetStockItem(v.Ctx, &inventoryv1.GetStockItemRequest{Name: "stock/" + id})
}

func (s room) stockItem(v *site.Visit) (site.View, error) {
	item, err := s.readItem(v, v.PathValue("id"))
	if err != nil {
		return site.View{}, err
	}
	moves, err := s.Inventory.ListMovements(v.Ctx, &inventoryv1.ListMovementsRequest{StockItem: item.GetName(), PageSize: 100})
	if err != nil {
		return site.View{}, err
	}
	waiting, err := s.waiting(v, item.GetName())
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "stockitem", Title: "Barrel " + item.GetDrumTag(), Data: map[string]any{
		"Done": s.done(v), "Waiting": waiting, "Own": "users/" + v.Who.Name, "MayDecide": v.MayCall(decideWriteOff),
		"MayLose": item.GetState() == inventoryv1.StockState_STOCK_STATE_ON_HAND && v.MayCall(recordLoss),
		"Item":    item, "Usable": len(item.GetHolds()) == 0 && item.GetState() == inventoryv1.StockState_STOCK_STATE_ON_HAND, "Moves": moves.GetMovements(), "MayMove": v.MayCall(moveBarrel), "MayHold": v.MayCall(placeHold), "MaySplit": v.MayCall(splitBarrel), "MayHeat": v.MayCall(getHeat), "MayTrace": v.MayCall(traceHoney),
		"MayRelease": v.MayCall(releaseHold), "MayCertificate": v.MayCall(getCertificate), "MayTicket": v.MayCall(getTicket),
		"MayTest": v.MayCall(testClaim), "MayApprove": v.MayCall(approveClaim), "MayWithdraw": v.MayCall(withdrawClaim),
	}}, nil
}

// moveByScan takes the tag of a drum and the place it stands at: two scans, one barrel.
func (s room) moveByScan(v *site.Visit) (site.View, error) {
	f := v.Form()
	if v.Posted {
		item, err := s.moveScanned(v, f)
		if err == nil {
			done := url.Values{"moved": {item.GetDrumTag()}, "to": {item.GetLocation()}}
			return site.View{GoTo: "/stock/move?" + done.Encode()}, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	return site.View{Page: "move", Title: "Move a barrel", Data: map[string]any{
		"Form": f, "Moved": v.URL.Query().Get("moved"), "To": v.URL.Query().Get("to"),
	}}, nil
}

func (s room) moveScanned(v *site.Visit, f *site.Form) (*inventoryv1.StockItem, error) {
	item, err := s.scanned(v, f.Value("drum_tag"))
	if err != nil {
		return nil, err
	}
	return s.Inventory.MoveBarrel(v.Ctx, &inventoryv1.MoveBarrelRequest{RequestId: f.RequestID, Name: item, Location: strings.ToUpper(f.Value("location"))})
}

func (s room) placeHold(v *site.Visit) (site.View, error) {
	f := v.Form()
	id := v.PathValue("id")
	if v.Posted {
		_, err := s.Inventory.PlaceHold(v.Ctx, &inventoryv1.PlaceHoldRequest{
			RequestId: f.RequestID, StockItem: "stock/" + id, Code: inventoryv1.HoldCode(inventoryv1.HoldCode_value["HOLD_CODE_"+f.Value("code")]),
			Reason: f.Value("reason"),
		})
		if err == nil {
			return site.View{GoTo: "/stock/" + id}, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	item, err := s.readItem(v, id)
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "hold", Title: "Hold barrel " + item.GetDrumTag(), Data: map[string]any{"Form": f, "Item": item}}, nil
}

func (s room) holds(v *site.Visit) (site.View, error) {
	all := v.URL.Query().Get("all") != ""
	found, err := s.Inventory.ListHolds(v.Ctx, &inventoryv1.ListHoldsRequest{PageSize: 50, PageToken: v.URL.Query().Get("page"), OpenOnly: !all})
	if err != nil {
		return site.View{}, err
	}
	var places []string
	for _, h := range found.GetHolds() {
		places = append(places, heldName(h))
	}
	return site.View{Page: "holds", Title: "Holds", Data: map[string]any{
		"Holds": found.GetHolds(), "Names": s.heldNames(v, places), "All": all, "Next": site.NextPage(v, found.GetNextPageToken()),
		"MayRelease": v.MayCall(releaseHold), "MayItem": v.MayCall(listStock),
	}}, nil
}

// heldNames are what people call what is held. The laboratory lead releases holds without learning whose drum it is.
func (s room) heldNames(v *site.Visit, places []string) map[string]string {
	if !v.MayCall(listStock) {
		return nil
	}
	return s.NamesOf(v, places)
}

func (s room) releaseHold(v *site.Visit) (site.View, error) {
	f := v.Form()
	if v.Posted {
		_, err := s.Inventory.ReleaseHold(v.Ctx, &inventoryv1.ReleaseHoldRequest{
			RequestId: f.RequestID, Name: "holds/" + v.PathValue("id"), Reason: f.Value("reason"),
		})
		if err == nil {
			return site.View{GoTo: "/holds"}, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	return site.View{Page: "release", Title: "Release a hold", Data: map[string]any{"Form": f, "Tag": f.Value("tag"), "Why": f.Value("why")}}, nil
}
