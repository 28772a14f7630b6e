package web

import (
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// The RPCs pages are offered by.
const (
	listTickets     = intakev1.IntakeService_ListTickets_FullMethodName
	getTicket       = intakev1.IntakeService_GetTicket_FullMethodName
	openTicket      = intakev1.IntakeService_OpenTicket_FullMethodName
	weighBarrel     = intakev1.IntakeService_WeighBarrel_FullMethodName
	drawSample      = intakev1.IntakeService_DrawSample_FullMethodName
	closeTicket     = intakev1.IntakeService_CloseTicket_FullMethodName
	cancelTicket    = intakev1.IntakeService_CancelTicket_FullMethodName
	requestVoid     = intakev1.IntakeService_RequestTicketVoid_FullMethodName
	approveVoid     = intakev1.IntakeService_ApproveTicketVoid_FullMethodName
	listScales      = intakev1.IntakeService_ListScales_FullMethodName
	createScale     = intakev1.IntakeService_CreateScale_FullMethodName
	checkScale      = intakev1.IntakeService_RecordScaleCheck_FullMethodName
	listMembers     = intakev1.IntakeService_ListMembers_FullMethodName
	createMember    = intakev1.IntakeService_CreateMember_FullMethodName
	listSamples     = gradingv1.GradingService_ListSamples_FullMethodName
	recordReading   = gradingv1.GradingService_RecordReading_FullMethodName
	certify         = gradingv1.GradingService_IssueCertificate_FullMethodName
	getCertificate  = gradingv1.GradingService_GetCertificate_FullMethodName
	listStandards   = gradingv1.GradingService_ListStandards_FullMethodName
	sumStock        = inventoryv1.InventoryService_SummarizeStock_FullMethodName
	listStock       = inventoryv1.InventoryService_ListStock_FullMethodName
	moveBarrel      = inventoryv1.InventoryService_MoveBarrel_FullMethodName
	placeHold       = inventoryv1.InventoryService_PlaceHold_FullMethodName
	releaseHold     = inventoryv1.InventoryService_ReleaseHold_FullMethodName
	listHolds       = inventoryv1.InventoryService_ListHolds_FullMethodName
	listControls    = gradingv1.GradingService_ListControls_FullMethodName
	runControl      = gradingv1.GradingService_RecordControlRun_FullMethodName
	confirmResults  = gradingv1.GradingService_ConfirmResults_FullMethodName
	traceHoney      = inventoryv1.InventoryService_Trace_FullMethodName
	getBalance      = inventoryv1.InventoryService_GetMassBalance_FullMethodName
	listPools       = settlementv1.SettlementService_ListPools_FullMethodName
	openPool        = settlementv1.SettlementService_OpenPool_FullMethodName
	recordPoolEntry = settlementv1.SettlementService_RecordPoolEntry_FullMethodName
	prepareRun      = settlementv1.SettlementService_PrepareRun_FullMethodName
	getRun          = settlementv1.SettlementService_GetRun_FullMethodName
	approveRun      = settlementv1.SettlementService_ApproveRun_FullMethodName
	releaseRun      = settlementv1.SettlementService_ReleaseRun_FullMethodName
	getPayout       = settlementv1.SettlementService_GetPayout_FullMethodName
	getTotal        = settlementv1.SettlementService_GetMemberTotal_FullMethodName
	listTotals      = settlementv1.SettlementService_ListMemberTotals_FullMethodName
	listUnpriced    = settlementv1.SettlementService_ListUnpriced_FullMethodName
	listSchedules   = settlementv1.SettlementService_ListSchedules_FullMethodName
	createSchedule  = settlementv1.SettlementService_CreateSchedule_FullMethodName
	adoptSchedule   = settlementv1.SettlementService_AdoptSchedule_FullMethodName
)

const (
	memberRole = accessv1.Role_ROLE_MEMBER
	adminRole  = accessv1.Role_ROLE_ADMINISTRATOR
)

// table is every page behind the sign-in.
func (s *site) table() map[string]page {
	return map[string]page{
		"/{$}":      {show: s.home},
		"/password": {show: s.password, form: true},

		"/dock":                      {needs: openTicket, show: s.dock},
		"/dock/away":                 {needs: openTicket, show: s.away},
		"/tickets":                   {needs: listTickets, show: s.tickets},
		"/tickets/new":               {needs: openTicket, show: s.newTicket, form: true},
		"/tickets/{id}":              {needs: getTicket, show: s.ticket},
		"/tickets/{id}/weigh":        {needs: weighBarrel, show: s.weigh, form: true},
		"/tickets/{id}/close":        {needs: closeTicket, show: s.closeTicket, form: true},
		"/tickets/{id}/cancel":       {needs: cancelTicket, show: s.cancelTicket, form: true},
		"/tickets/{id}/void":         {needs: requestVoid, show: s.requestVoid, form: true},
		"/tickets/{id}/approve":      {needs: approveVoid, show: s.approveVoid, form: true},
		"/barrels/{id}/sample":       {needs: drawSample, show: s.sample, form: true},
		"/scales":                    {needs: listScales, show: s.scales},
		"/scales/new":                {needs: createScale, show: s.newScale, form: true},
		"/scales/{id}/check":         {needs: checkScale, show: s.checkScale, form: true},
		"/bench":                     {needs: listSamples, show: s.bench},
		"/bench/find":                {needs: listSamples, show: s.findSample},
		"/bench/{code}":              {needs: listSamples, show: s.benchSample},
		"/bench/{code}/read":         {needs: recordReading, show: s.reading, form: true},
		"/bench/{code}/certify":      {needs: certify, show: s.certify, form: true},
		"/certificates":              {needs: getCertificate, show: s.certificates},
		"/certificates/{id}":         {needs: getCertificate, show: s.certificate},
		"/standards":                 {needs: listStandards, show: s.standards},
		"/stock":                     {needs: sumStock, show: s.stock},
		"/stock/list":                {needs: listStock, show: s.stockList},
		"/stock/find":                {needs: listStock, show: s.findBarrel},
		"/stock/move":                {needs: moveBarrel, show: s.moveByScan, form: true},
		"/stock/{id}":                {needs: listStock, show: s.stockItem},
		"/stock/{id}/hold":           {needs: placeHold, show: s.placeHold, form: true},
		"/holds":                     {needs: listHolds, show: s.holds},
		"/holds/{id}/release":        {needs: releaseHold, show: s.releaseHold, form: true},
		"/members":                   {needs: listMembers, show: s.members},
		"/members/new":               {needs: createMember, show: s.newMember, form: true},
		"/members/{number}":          {needs: getTotal, show: s.account},
		"/me":                        {role: memberRole, show: s.ownAccount},
		"/payouts/{id}":              {needs: getPayout, show: s.payout},
		"/payouts/{id}/lines/{line}": {needs: getPayout, show: s.why},
		"/controls":                  {needs: listControls, show: s.controls},
		"/controls/{id}/run":         {needs: runControl, show: s.runOfControl, form: true},
		"/controls/{id}/confirm":     {needs: confirmResults, show: s.confirmResults, form: true},
		"/trace":                     {needs: traceHoney, show: s.trace},
		"/balance":                   {needs: getBalance, show: s.massBalance},
		"/pools":                     {needs: listPools, show: s.pools},
		"/pools/new":                 {needs: openPool, show: s.newPool, form: true},
		"/pools/{id}":                {needs: listPools, show: s.pool},
		"/pools/{id}/entry":          {needs: recordPoolEntry, show: s.poolEntry, form: true},
		"/pools/{id}/prepare":        {needs: prepareRun, show: s.prepareRun, form: true},
		"/runs/{id}":                 {needs: getRun, show: s.run, form: true},
		"/totals":                    {needs: listTotals, show: s.totals},
		"/unpriced":                  {needs: listUnpriced, show: s.unpriced},
		"/schedules":                 {needs: listSchedules, show: s.schedules},
		"/schedules/new":             {needs: createSchedule, show: s.newSchedule, form: true},
		"/schedules/{id}":            {needs: listSchedules, show: s.schedule},
		"/schedules/{id}/adopt":      {needs: adoptSchedule, show: s.adoptSchedule, form: true},
		"/logins":                    {role: adminRole, show: s.logins},
		"/logins/new":                {role: adminRole, show: s.newLogin, form: true},
		"/logins/{login}":            {role: adminRole, show: s.login, form: true},
	}
}
