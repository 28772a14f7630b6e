// Package office is the pages of members and their money: prices, pools, payments, the books, the year's end, and logins.
package office

import (
	"embed"
	"html/template"
	"maps"

	"barrelhead.example/gateway/internal/web/site"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// RPCs the pages are offered by; those of one purpose stand beside what serves it.
const (
	listMembers     = intakev1.IntakeService_ListMembers_FullMethodName
	createMember    = intakev1.IntakeService_CreateMember_FullMethodName
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
	getCertificate  = gradingv1.GradingService_GetCertificate_FullMethodName
	getTicket       = intakev1.IntakeService_GetTicket_FullMethodName
)

//go:embed pages/*.html
var files embed.FS

type room struct{ *site.Site }

// Room is the office.
func Room(s *site.Site) site.Room {
	return site.Room{Pages: room{s}.pages(), Files: files, Functions: template.FuncMap{
		"advances": advances, "differentials": differentials, "capital": site.Labels(capitalKinds),
		"outcome": site.Labels(disputeOutcomes), "charge": site.Labels(chargeKinds),
		"loanfor": site.Labels(loanPurposes), "daycount": site.Labels(dayCounts), "compare": compareMoney,
		"steps": steps, "gauge": drawGauge, "roles": site.RolesInWords,
	}}
}

// pages of the daily work; every other purpose has its own list, beside what serves it.
func (s room) pages() map[string]site.Page {
	all := map[string]site.Page{
		"/members":                            {Needs: listMembers, Show: s.members},
		"/members/new":                        {Needs: createMember, Show: s.newMember, Form: true},
		"/members/{number}":                   {Needs: getTotal, Show: s.account},
		"/me":                                 {Role: accessv1.Role_ROLE_MEMBER, Show: s.ownAccount},
		"/payouts/{id}":                       {Needs: getPayout, Show: s.payout},
		"/payouts/{id}/lines/{line}":          {Needs: getPayout, Show: s.why},
		"/pools":                              {Needs: listPools, Show: s.pools},
		"/pools/new":                          {Needs: openPool, Show: s.newPool, Form: true},
		"/pools/{id}":                         {Needs: listPools, Show: s.pool},
		"/pools/{id}/entry":                   {Needs: recordPoolEntry, Show: s.poolEntry, Form: true},
		"/pools/{id}/prepare":                 {Needs: prepareRun, Show: s.prepareRun, Form: true},
		"/runs/{id}":                          {Needs: getRun, Show: s.run, Form: true},
		"/totals":                             {Needs: listTotals, Show: s.totals},
		"/unpriced":                           {Needs: listUnpriced, Show: s.unpriced},
		"/schedules":                          {Needs: listSchedules, Show: s.schedules},
		"/schedules/new":                      {Needs: createSchedule, Show: s.newSchedule, Form: true},
		"/schedules/{id}":                     {Needs: listSchedules, Show: s.schedule},
		"/schedules/{id}/adopt":               {Needs: adoptSchedule, Show: s.adoptSchedule, Form: true},
		"/logins":                             {Role: accessv1.Role_ROLE_ADMINISTRATOR, Show: s.logins},
		"/logins/new":                         {Role: accessv1.Role_ROLE_ADMINISTRATOR, Show: s.newLogin, Form: true},
		"/logins/{login}":                     {Role: accessv1.Role_ROLE_ADMINISTRATOR, Show: s.login, Form: true},
		"/members/{number}/statements/{file}": {Show: s.statement},
		"/verify-statement":                   {Show: s.checkStatement, Open: true},
	}
	for _, more := range []map[string]site.Page{
		s.moneyPages(), s.poolMoneyPages(), s.memberPages(), s.accountPages(), s.yearEndPages(),
	} {
		maps.Copy(all, more)
	}
	return all
}
