// Package dock is the pages of the dock: deliveries and their tickets, scales, drums and other containers, and the sample
// portions drawn there.
package dock

import (
	"embed"
	"html/template"

	"barrelhead.example/gateway/internal/web/site"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// RPCs the pages are offered by; those of one purpose stand beside what serves it.
const (
	listTickets  = intakev1.IntakeService_ListTickets_FullMethodName
	getTicket    = intakev1.IntakeService_GetTicket_FullMethodName
	openTicket   = intakev1.IntakeService_OpenTicket_FullMethodName
	weighBarrel  = intakev1.IntakeService_WeighBarrel_FullMethodName
	drawSample   = intakev1.IntakeService_DrawSample_FullMethodName
	closeTicket  = intakev1.IntakeService_CloseTicket_FullMethodName
	cancelTicket = intakev1.IntakeService_CancelTicket_FullMethodName
	requestVoid  = intakev1.IntakeService_RequestTicketVoid_FullMethodName
	approveVoid  = intakev1.IntakeService_ApproveTicketVoid_FullMethodName
	listScales   = intakev1.IntakeService_ListScales_FullMethodName
	createScale  = intakev1.IntakeService_CreateScale_FullMethodName
	checkScale   = intakev1.IntakeService_RecordScaleCheck_FullMethodName
	getTotal     = settlementv1.SettlementService_GetMemberTotal_FullMethodName
	listMembers  = intakev1.IntakeService_ListMembers_FullMethodName
	listStock    = inventoryv1.InventoryService_ListStock_FullMethodName
)

//go:embed pages/*.html
var files embed.FS

type room struct{ *site.Site }

// Room is the dock.
func Room(s *site.Site) site.Room {
	return site.Room{Pages: room{s}.pages(), Files: files, Functions: template.FuncMap{
		"container": site.Labels(containerOptions), "moved": site.Labels(containerMoves),
	}}
}

func (s room) pages() map[string]site.Page {
	return map[string]site.Page{
		"/dock":                 {Needs: openTicket, Show: s.dock},
		"/dock/away":            {Needs: openTicket, Show: s.away},
		"/tickets":              {Needs: listTickets, Show: s.tickets},
		"/tickets/new":          {Needs: openTicket, Show: s.newTicket, Form: true},
		"/tickets/{id}":         {Needs: getTicket, Show: s.ticket},
		"/tickets/{id}/weigh":   {Needs: weighBarrel, Show: s.weigh, Form: true},
		"/tickets/{id}/close":   {Needs: closeTicket, Show: s.closeTicket, Form: true},
		"/tickets/{id}/cancel":  {Needs: cancelTicket, Show: s.cancelTicket, Form: true},
		"/tickets/{id}/void":    {Needs: requestVoid, Show: s.requestVoid, Form: true},
		"/tickets/{id}/approve": {Needs: approveVoid, Show: s.approveVoid, Form: true},
		"/barrels/{id}/sample":  {Needs: drawSample, Show: s.sample, Form: true},
		"/scales":               {Needs: listScales, Show: s.scales},
		"/scales/new":           {Needs: createScale, Show: s.newScale, Form: true},
		"/scales/{id}/check":    {Needs: checkScale, Show: s.checkScale, Form: true},

		"/members/{number}/splits":     {Needs: listSplits, Show: s.splits},
		"/members/{number}/splits/new": {Needs: setSplit, Show: s.newSplit, Form: true},
		"/reviews":                     {Needs: listReviews, Show: s.reviews},
		"/reviews/{id}":                {Needs: listReviews, Show: s.review},
		"/reviews/{id}/resolve":        {Needs: resolveReview, Show: s.resolveReview, Form: true},
		"/barrels/{id}/reweigh":        {Needs: reweigh, Show: s.reweigh, Form: true},
		"/drums":                       {Needs: listDrums, Show: s.drums},
		"/drums/new":                   {Needs: registerDrum, Show: s.newDrum, Form: true},
		"/drums/{tag}":                 {Needs: getDrum, Show: s.drum},
		"/drums/{tag}/release":         {Needs: releaseDrum, Show: s.releaseDrum, Form: true},
		"/drums/{tag}/retire":          {Needs: retireDrum, Show: s.retireDrum, Form: true},
		"/variances":                   {Needs: listVariances, Show: s.variances},
		"/numbers":                     {Needs: reportNumbers, Show: s.numbers},
		"/weighers":                    {Needs: reportWeigher, Show: s.weighers},
		"/typed":                       {Needs: listTyped, Show: s.typedWeights},
		"/dock-terms":                  {Needs: listClassTares, Show: s.dockTerms},
		"/dock-terms/tare":             {Needs: setClassTare, Show: s.newClassTare, Form: true},
		"/dock-terms/deposit":          {Needs: setDeposit, Show: s.newDeposit, Form: true},

		"/tickets/{id}/paper":                 {Needs: weighBarrel, Show: s.paperWeight, Form: true},
		"/barrels/{id}/confirm":               {Needs: confirmPaper, Show: s.confirmPaperWeight, Form: true},
		"/tickets/{id}/declare":               {Needs: declareHarvest, Show: s.declareHarvest, Form: true},
		"/tickets/{id}/reject":                {Needs: rejectBarrel, Show: s.rejectABarrel, Form: true},
		"/tickets/{id}/rejects/{reject}/left": {Needs: recordExit, Show: s.rejectLeft, Form: true},
		"/portions":                           {Needs: listPortions, Show: s.portionsDue},
		"/samples":                            {Needs: getCustody, Show: s.portionsOf},
		"/samples/{code}":                     {Needs: getCustody, Show: s.custody},
		"/samples/{code}/record":              {Needs: recordCustody, Show: s.newCustody, Form: true},
		"/containers":                         {Needs: containerAccount, Show: s.ownContainers},
		"/members/{number}/containers":        {Needs: containerAccount, Show: s.containers},
		"/members/{number}/containers/move":   {Needs: moveContainers, Show: s.moveContainer, Form: true},
	}
}
