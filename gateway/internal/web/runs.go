package web

import (
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/quantity"
)

// compareRuns says what changed since an earlier run of the pool, cause by cause.
func (s *site) compareRuns(v *visit) (view, error) {
	name := "runs/" + v.PathValue("id")
	request := &settlementv1.CompareRunsRequest{Name: name}
	if base := v.URL.Query().Get("base"); base != "" {
		request.Base = "runs/" + base
	}
	found, err := s.settlement.CompareRuns(v.ctx, request)
	if err != nil {
		return view{}, err
	}
	run, err := s.settlement.GetRun(v.ctx, &settlementv1.GetRunRequest{Name: name})
	if err != nil {
		return view{}, err
	}
	base, err := s.settlement.GetRun(v.ctx, &settlementv1.GetRunRequest{Name: found.GetBase()})
	if err != nil {
		return view{}, err
	}
	others, err := s.settlement.ListRuns(v.ctx, &settlementv1.ListRunsRequest{Pool: run.GetPool(), PageSize: 20})
	if err != nil {
		return view{}, err
	}
	return view{page: "compare", title: "What changed in run " + run.GetNumber(), data: map[string]any{"Found": found, "Run": run, "Base": base, "Runs": others.GetRuns(), "MayTicket": v.mayCall(getTicket)}}, nil
}

func (s *site) runMembers(v *visit) (view, error) {
	name := "runs/" + v.PathValue("id")
	found, err := s.settlement.ListRunMembers(v.ctx, &settlementv1.ListRunMembersRequest{Run: name, PageSize: 500, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	run, err := s.settlement.GetRun(v.ctx, &settlementv1.GetRunRequest{Name: name})
	if err != nil {
		return view{}, err
	}
	return view{page: "runmembers", title: "Members in run " + run.GetNumber(), data: map[string]any{
		"Members": found.GetRunMembers(), "Run": run, "Next": nextPage(v, found.GetNextPageToken()), "MayOpen": v.mayCall(getTotal),
	}}, nil
}

// runSensitivity is for the evening before a vote: how much hangs on two figures that are guessed at.
func (s *site) runSensitivity(v *visit) (view, error) {
	name := "runs/" + v.PathValue("id")
	found, err := s.settlement.GetRunSensitivity(v.ctx, &settlementv1.GetRunSensitivityRequest{Name: name})
	if err != nil {
		return view{}, err
	}
	run, err := s.settlement.GetRun(v.ctx, &settlementv1.GetRunRequest{Name: name})
	if err != nil {
		return view{}, err
	}
	return view{page: "sensitivity", title: "Run " + run.GetNumber() + " with other figures", data: map[string]any{"Found": found, "Run": run}}, nil
}

// verifyRun has a run calculated again from what was stored with it.
func (s *site) verifyRun(v *visit) (view, error) {
	name := "runs/" + v.PathValue("id")
	found, err := s.settlement.VerifyRun(v.ctx, &settlementv1.VerifyRunRequest{Name: name})
	if err != nil {
		return view{}, err
	}
	return view{page: "verifyrun", title: "Calculated again", data: map[string]any{"Run": name, "Found": found}}, nil
}

// books is the trial balance: that it is shown at all means that it adds up, for the service refuses one that does not.
func (s *site) books(v *visit) (view, error) {
	f := v.form()
	d := map[string]any{"Form": f, "MayExport": v.mayCall(exportJournal), "Through": f.Value("through_date")}
	if year := s.Clock.Now().In(s.zone).Year(); v.mayCall(exportTax) {
		d["TaxYears"] = []int{year, year - 1}
	}
	found, err := s.settlement.GetTrialBalance(v.ctx, &settlementv1.GetTrialBalanceRequest{ThroughDate: f.Value("through_date")})
	if err != nil && !f.refused(v, err) {
		return view{}, err
	}
	if err == nil {
		d["Balance"] = found
	}
	return view{page: "books", title: "The books", data: d}, nil
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
