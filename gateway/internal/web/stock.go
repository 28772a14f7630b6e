package web

import (
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/apierr"
)

// stock is all that is on hand, by source; of one source it is every kind, each with its barrels one step away.
func (s *site) stock(v *visit) (view, error) {
	found, err := s.inventory.SummarizeStock(v.ctx, &inventoryv1.SummarizeStockRequest{})
	if err != nil {
		return view{}, err
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
	drawn := drawBars(totals)
	for n, row := range drawn.Rows {
		if row.Variety != source { // which is this page
			drawn.Rows[n].Address = "/stock?" + url.Values{"source": {row.Variety}}.Encode()
		}
	}
	return view{page: page, title: "Stock", data: map[string]any{
		"Totals": totals, "Bars": drawn, "Source": source, "Barrels": barrels, "Held": held, "MayList": v.mayCall(listStock), "MayMove": v.mayCall(moveBarrel), "Unknown": v.URL.Query().Get("unknown"),
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
func (s *site) findBarrel(v *visit) (view, error) {
	f := v.form()
	item, err := s.scanned(v, f.Value("drum_tag"))
	if f.refused(v, err) {
		return view{goTo: "/stock?" + url.Values{"unknown": {f.Problem}}.Encode()}, nil
	}
	return view{goTo: "/" + item}, err
}

// stockFilters are the query of the list, passed on as they are.
var stockFilters = []string{"variety", "crop_year", "color_class", "grade", "location"}

func (s *site) stockList(v *visit) (view, error) {
	f := v.form()
	found, err := s.askedStock(v, f)
	if err != nil && !f.refused(v, err) {
		return view{}, err
	}
	var only []string
	for _, name := range stockFilters {
		if value := f.Value(name); value != "" {
			only = append(only, words(name)+" "+words(value))
		}
	}
	if f.Value("held") != "" {
		only = append(only, "held")
	}
	return view{page: "stocklist", title: "Barrels in stock", data: map[string]any{
		"Items": found.GetStockItems(), "Only": strings.Join(only, ", "), "Form": f, "Next": nextPage(v, found.GetNextPageToken()),
	}}, nil
}

func (s *site) askedStock(v *visit, f *form) (*inventoryv1.ListStockResponse, error) {
	year, err := strconv.ParseInt(cmp.Or(f.Value("crop_year"), "0"), 10, 32)
	if err != nil {
		return nil, apierr.Field("crop_year", fmt.Sprintf("%q is not a year such as 2026", f.Value("crop_year")))
	}
	return s.inventory.ListStock(v.ctx, &inventoryv1.ListStockRequest{
		PageSize: 50, PageToken: f.Value("page"), Variety: strings.ToLower(f.Value("variety")), CropYear: int32(year), ColorClass: f.Value("color_class"),
		Grade: strings.ToUpper(f.Value("grade")), Location: strings.ToUpper(f.Value("location")), HeldOnly: f.Value("held") != "",
	})
}

func (s *site) readItem(v *visit, id string) (*inventoryv1.StockItem, error) {
	return s.inventory.GetStockItem(v.ctx, &inventoryv1.GetStockItemRequest{Name: "stock/" + id})
}

func (s *site) stockItem(v *visit) (view, error) {
	item, err := s.readItem(v, v.PathValue("id"))
	if err != nil {
		return view{}, err
	}
	moves, err := s.inventory.ListMovements(v.ctx, &inventoryv1.ListMovementsRequest{StockItem: item.GetName(), PageSize: 100})
	if err != nil {
		return view{}, err
	}
	waiting, err := s.waiting(v, item.GetName())
	if err != nil {
		return view{}, err
	}
	return view{page: "stockitem", title: "Barrel " + item.GetDrumTag(), data: map[string]any{
		"Done": s.done(v), "Waiting": waiting, "Own": "users/" + v.who.Name, "MayDecide": v.mayCall(decideWriteOff),
		"MayLose": item.GetState() == inventoryv1.StockState_STOCK_STATE_ON_HAND && v.mayCall(recordLoss),
		"Item":    item, "Usable": len(item.GetHolds()) == 0 && item.GetState() == inventoryv1.StockState_STOCK_STATE_ON_HAND, "Moves": moves.GetMovements(), "MayMove": v.mayCall(moveBarrel), "MayHold": v.mayCall(placeHold), "MaySplit": v.mayCall(splitBarrel), "MayHeat": v.mayCall(getHeat), "MayTrace": v.mayCall(traceHoney),
		"MayRelease": v.mayCall(releaseHold), "MayCertificate": v.mayCall(getCertificate), "MayTicket": v.mayCall(getTicket),
		"MayTest": v.mayCall(testClaim), "MayApprove": v.mayCall(approveClaim), "MayWithdraw": v.mayCall(withdrawClaim),
	}}, nil
}

// moveByScan takes the tag of a drum and the place it stands at: two scans, one barrel.
func (s *site) moveByScan(v *visit) (view, error) {
	f := v.form()
	if v.posted {
		item, err := s.moveScanned(v, f)
		if err == nil {
			done := url.Values{"moved": {item.GetDrumTag()}, "to": {item.GetLocation()}}
			return view{goTo: "/stock/move?" + done.Encode()}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	return view{page: "move", title: "Move a barrel", data: map[string]any{
		"Form": f, "Moved": v.URL.Query().Get("moved"), "To": v.URL.Query().Get("to"),
	}}, nil
}

func (s *site) moveScanned(v *visit, f *form) (*inventoryv1.StockItem, error) {
	item, err := s.scanned(v, f.Value("drum_tag"))
	if err != nil {
		return nil, err
	}
	return s.inventory.MoveBarrel(v.ctx, &inventoryv1.MoveBarrelRequest{RequestId: f.RequestID, Name: item, Location: strings.ToUpper(f.Value("location"))})
}

func (s *site) placeHold(v *visit) (view, error) {
	f := v.form()
	id := v.PathValue("id")
	if v.posted {
		_, err := s.inventory.PlaceHold(v.ctx, &inventoryv1.PlaceHoldRequest{
			RequestId: f.RequestID, StockItem: "stock/" + id, Code: inventoryv1.HoldCode(inventoryv1.HoldCode_value["HOLD_CODE_"+f.Value("code")]),
			Reason: f.Value("reason"),
		})
		if err == nil {
			return view{goTo: "/stock/" + id}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	item, err := s.readItem(v, id)
	if err != nil {
		return view{}, err
	}
	return view{page: "hold", title: "Hold barrel " + item.GetDrumTag(), data: map[string]any{"Form": f, "Item": item}}, nil
}

func (s *site) holds(v *visit) (view, error) {
	all := v.URL.Query().Get("all") != ""
	found, err := s.inventory.ListHolds(v.ctx, &inventoryv1.ListHoldsRequest{PageSize: 50, PageToken: v.URL.Query().Get("page"), OpenOnly: !all})
	if err != nil {
		return view{}, err
	}
	var places []string
	for _, h := range found.GetHolds() {
		places = append(places, heldName(h))
	}
	return view{page: "holds", title: "Holds", data: map[string]any{
		"Holds": found.GetHolds(), "Names": s.heldNames(v, places), "All": all, "Next": nextPage(v, found.GetNextPageToken()),
		"MayRelease": v.mayCall(releaseHold), "MayItem": v.mayCall(listStock),
	}}, nil
}

// heldNames are what people call what is held. The laboratory lead releases holds without learning whose drum it is.
func (s *site) heldNames(v *visit, places []string) map[string]string {
	if !v.mayCall(listStock) {
		return nil
	}
	return s.namesOf(v, places)
}

func (s *site) releaseHold(v *visit) (view, error) {
	f := v.form()
	if v.posted {
		_, err := s.inventory.ReleaseHold(v.ctx, &inventoryv1.ReleaseHoldRequest{
			RequestId: f.RequestID, Name: "holds/" + v.PathValue("id"), Reason: f.Value("reason"),
		})
		if err == nil {
			return view{goTo: "/holds"}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	return view{page: "release", title: "Release a hold", data: map[string]any{"Form": f, "Tag": f.Value("tag"), "Why": f.Value("why")}}, nil
}
