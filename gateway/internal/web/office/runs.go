package office

import (
	"barrelhead.example/gateway/internal/web/site"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/quantity"
)

// compareRuns says what changed since an earlier run of the pool, cause by cause.
func (s room) compareRuns(v *site.Visit) (site.View, error) {
	name := "runs/" + v.PathValue("id")
	request := &settlementv1.CompareRunsRequest{Name: name}
	if base := v.URL.Query().Get("base"); base != "" {
		request.Base = "runs/" + base
	}
	found, err := s.Settlement.CompareRuns(v.Ctx, request)
	if err != nil {
		return site.View{}, err
	}
	run, err := s.Settlement.GetRun(v.Ctx, &settlementv1.GetRunRequest{Name: name})
	if err != nil {
		return site.View{}, err
	}
	base, err := s.Settlement.GetRun(v.Ctx, &settlementv1.GetRunRequest{Name: found.GetBase()})
	if err != nil {
		return site.View{}, err
	}
	others, err := s.Settlement.ListRuns(v.Ctx, &settlementv1.ListRunsRequest{Pool: run.GetPool(), PageSize: 20})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "compare", Title: "What changed in run " + run.GetNumber(), Data: map[string]any{"Found": found, "Run": run, "Base": base, "Runs": others.GetRuns(), "MayTicket": v.MayCall(getTicket)}}, nil
}

func (s room) runMembers(v *site.Visit) (site.View, error) {
	name := "runs/" + v.PathValue("id")
	found, err := s.Settlement.ListRunMembers(v.Ctx, &settlementv1.ListRunMembersRequest{Run: name, PageSize: 500, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	run, err := s.Settlement.GetRun(v.Ctx, &settlementv1.GetRunRequest{Name: name})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "runmembers", Title: "Members in run " + run.GetNumber(), Data: map[string]any{
		"Members": found.GetRunMembers(), "Run": run, "Next": site.NextPage(v, found.GetNextPageToken()), "MayOpen": v.MayCall(getTotal),
	}}, nil
}

// runSensitivity is for the evening before a vote: how much hangs on two figures that are guessed at.
func (s room) runSensitivity(v *site.Visit) (site.View, error) {
	name := "runs/" + v.PathValue("id")
	found, err := s.Settlement.GetRunSensitivity(v.Ctx, &settlementv1.GetRunSensitivityRequest{Name: name})
	if err != nil {
		return site.View{}, err
	}
	run, err := s.Settlement.GetRun(v.Ctx, &settlementv1.GetRunRequest{Name: name})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "sensitivity", Title: "Run " + run.GetNumber() + " with other figures", Data: map[string]any{"Found": found, "Run": run}}, nil
}

// verifyRun has a run calculated again from what was stored with it.
func (s room) verifyRun(v *site.Visit) (site.View, error) {
	name := "runs/" + v.PathValue("id")
	found, err := s.Settlement.VerifyRun(v.Ctx, &settlementv1.VerifyRunRequest{Name: name})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "verifyrun", Title: "Calculated again", Data: map[string]any{"Run": name, "Found": found}}, nil
}

// books is the trial balance: that it is shown at all means that it adds up, for the service refuses one that does not.
func (s room) books(v *site.Visit) (site.View, error) {
	f := v.Form()
	d := map[string]any{"Form": f, "MayExport": v.MayCall(exportJournal), "Through": f.Value("through_date")}
	if year := s.Clock.Now().In(s.Zone).Year(); v.MayCall(exportTax) {
		d["TaxYears"] = []int{year, year - 1}
	}
	found, err := s.Settlement.GetTrialBalance(v.Ctx, &settlementv1.GetTrialBalanceRequest{ThroughDate: f.Value("through_date")})
	if err != nil && !f.Refused(v, err) {
		return site.View{}, err
	}
	if err == nil {
		d["Balance"] = found
	}
	return site.View{Page: "books", Title: "The books", Data: d}, nil
}

// compareMoney is what b is more than a; nil where one cannot be read.
func compareMoney(a, b *typev1.Money) *typev1.Money {
	before, err := quantity.ParseMoney(a.GetAmount())
	if err != nil {
		return nil
	}
	after, err := quantity.ParseMoney(b.GetAmount())
	if err != nil {
		return nil
	}
	return &typev1.Money{Amount: (after - before).String(), CurrencyCode: b.GetCurrencyCode()}
}
