// Package warehouse is the pages of what becomes of graded honey: stock, tanks and blends, the packing line, orders, and where
// every pound came from and went.
package warehouse

import (
	"embed"
	"html/template"
	"maps"

	"barrelhead.example/gateway/internal/web/site"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

// RPCs the pages are offered by; those of one purpose stand beside what serves it.
const (
	sumStock       = inventoryv1.InventoryService_SummarizeStock_FullMethodName
	listStock      = inventoryv1.InventoryService_ListStock_FullMethodName
	moveBarrel     = inventoryv1.InventoryService_MoveBarrel_FullMethodName
	placeHold      = inventoryv1.InventoryService_PlaceHold_FullMethodName
	releaseHold    = inventoryv1.InventoryService_ReleaseHold_FullMethodName
	listHolds      = inventoryv1.InventoryService_ListHolds_FullMethodName
	traceHoney     = inventoryv1.InventoryService_Trace_FullMethodName
	getBalance     = inventoryv1.InventoryService_GetMassBalance_FullMethodName
	getCertificate = gradingv1.GradingService_GetCertificate_FullMethodName
	getTicket      = intakev1.IntakeService_GetTicket_FullMethodName
)

//go:embed pages/*.html
var files embed.FS

type room struct{ *site.Site }

// Room is the warehouse.
func Room(s *site.Site) site.Room {
	return site.Room{Pages: room{s}.pages(), Files: files, Functions: template.FuncMap{
		"portion": portion, "left": left, "limit": limitWords, "flow": drawFlow, "strip": drawStrip,
		"held": heldName, "minutes": stopwatch, "unit": withUnit, "beyond": beyond, "kind": kindAddress,
	}}
}

// pages of the daily work; every other purpose has its own list, beside what serves it.
func (s room) pages() map[string]site.Page {
	all := map[string]site.Page{
		"/stock":              {Needs: sumStock, Show: s.stock},
		"/stock/list":         {Needs: listStock, Show: s.stockList},
		"/stock/find":         {Needs: listStock, Show: s.findBarrel},
		"/stock/move":         {Needs: moveBarrel, Show: s.moveByScan, Form: true},
		"/stock/{id}":         {Needs: listStock, Show: s.stockItem},
		"/stock/{id}/hold":    {Needs: placeHold, Show: s.placeHold, Form: true},
		"/holds":              {Needs: listHolds, Show: s.holds},
		"/holds/{id}/release": {Needs: releaseHold, Show: s.releaseHold, Form: true},
		"/trace":              {Needs: traceHoney, Show: s.trace},
		"/balance":            {Needs: getBalance, Show: s.massBalance},
	}
	for _, more := range []map[string]site.Page{
		s.lotPages(), s.lossPages(), s.netPages(), s.linePages(), s.salesPages(), s.returnPages(), s.keptPages(), s.recordPages(), s.claimPages(),
	} {
		maps.Copy(all, more)
	}
	return all
}
