package web

import (
	"context"
	"net/http"
	"strconv"
	"strings"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// The RPCs behind the pages of a year's end, of hauling and of the assessment.
const (
	listTaxRecords   = settlementv1.MemberAccountService_ListTaxRecords_FullMethodName
	getTaxRecord     = settlementv1.MemberAccountService_GetTaxRecord_FullMethodName
	listRefunds      = settlementv1.MemberAccountService_ListPatronageRefunds_FullMethodName
	allocateRefund   = settlementv1.MemberAccountService_AllocatePatronage_FullMethodName
	designateRetains = settlementv1.MemberAccountService_DesignateRetains_FullMethodName
	listHauling      = settlementv1.MemberAccountService_ListHaulingRates_FullMethodName
	setHauling       = settlementv1.MemberAccountService_SetHaulingRate_FullMethodName
	chargeHauling    = settlementv1.MemberAccountService_ChargeHauling_FullMethodName
	getAssessment    = settlementv1.MemberAccountService_GetAssessment_FullMethodName
)

// yearEndPages are what the office and the accountant need once a year or once a month.
func (s *site) yearEndPages() map[string]page {
	return map[string]page{
		"/tax":                         {needs: listTaxRecords, show: s.taxRecords},
		"/members/{number}/tax/{year}": {needs: getTaxRecord, show: s.taxRecord},
		"/refunds":                     {needs: listRefunds, show: s.refunds},
		"/refunds/new":                 {needs: allocateRefund, show: s.newRefund, form: true},
		"/retains/designate":           {needs: designateRetains, show: s.designate, form: true},
		"/hauling":                     {needs: listHauling, show: s.hauling},
		"/hauling/new":                 {needs: setHauling, show: s.newHauling, form: true},
		"/hauling/charge":              {needs: chargeHauling, show: s.haul, form: true},
		"/assessment":                  {needs: getAssessment, show: s.assessment},
	}
}

// taxRecords lists a calendar year by the boxes of the form, for the accountant.
func (s *site) taxRecords(v *visit) (view, error) {
	f := v.form()
	f.set("year", strconv.Itoa(s.Clock.Now().In(s.zone).Year()))
	year, _ := strconv.ParseInt(f.Value("year"), 10, 32) // what is no number is refused by its range
	found, err := s.accounts.ListTaxRecords(v.ctx, &settlementv1.ListTaxRecordsRequest{Year: int32(year)})
	if err != nil && !f.refused(v, err) {
		return view{}, err
	}
	must := 0
	for _, r := range found.GetTaxRecords() {
		if r.GetMustFile() {
			must++
		}
	}
	return view{page: "taxrecords", title: "Tax figures", data: map[string]any{"Form": f, "Year": year, "List": found, "Must": must}}, nil
}

// taxRecord is one member's calendar year.
func (s *site) taxRecord(v *visit) (view, error) {
	year, err := strconv.ParseInt(v.PathValue("year"), 10, 32)
	if err != nil {
		return view{}, errNoPage
	}
	member := "members/" + v.PathValue("number")
	found, err := s.accounts.GetTaxRecord(v.ctx, &settlementv1.GetTaxRecordRequest{Member: member, Year: int32(year)})
	if err != nil {
		return view{}, err
	}
	own, back := v.backTo(member)
	return view{page: "taxrecord", title: "Tax figures " + v.PathValue("year"), data: map[string]any{"Record": found, "Own": own, "Back": back}}, nil
}

func (s *site) refunds(v *visit) (view, error) {
	found, err := s.accounts.ListPatronageRefunds(v.ctx, &settlementv1.ListPatronageRefundsRequest{})
	if err != nil {
		return view{}, err
	}
	return view{page: "refunds", title: "Patronage refunds", data: map[string]any{
		"Refunds": found.GetPatronageRefunds(), "MayAllocate": v.mayCall(allocateRefund), "MayDesignate": v.mayCall(designateRetains),
	}}, nil
}

// newRefund records the board's resolution to share a year's earnings.
func (s *site) newRefund(v *visit) (view, error) {
	f := v.form()
	return s.plainTask(v, f, "newrefund", "Share a year's earnings", map[string]any{}, func() (string, error) {
		year, _ := strconv.ParseInt(f.Value("crop_year"), 10, 32) // what is no number is refused by its range
		_, err := s.accounts.AllocatePatronage(v.ctx, &settlementv1.AllocatePatronageRequest{
			RequestId: f.RequestID, CropYear: int32(year), FiscalYearEnd: f.Value("fiscal_year_end"), Total: s.typedMoney(f.Value("total")),
			CashPercent: decimal(f.Value("cash_percent")), Qualified: f.Value("class") == "QUALIFIED", Consent: f.Value("consent"), Resolution: f.Value("resolution"),
		})
		return "/refunds", err
	})
}

// designate records what certificates a crop year's retains stand on.
func (s *site) designate(v *visit) (view, error) {
	f := v.form()
	return s.plainTask(v, f, "designate", "Certificates of a crop year", map[string]any{}, func() (string, error) {
		year, _ := strconv.ParseInt(f.Value("crop_year"), 10, 32) // what is no number is refused by its range
		_, err := s.accounts.DesignateRetains(v.ctx, &settlementv1.DesignateRetainsRequest{
			RequestId: f.RequestID, CropYear: int32(year), Qualified: f.Value("class") == "QUALIFIED", Consent: f.Value("consent"), Resolution: f.Value("resolution"),
		})
		return "/refunds", err
	})
}

func (s *site) hauling(v *visit) (view, error) {
	found, err := s.accounts.ListHaulingRates(v.ctx, &settlementv1.ListHaulingRatesRequest{})
	if err != nil {
		return view{}, err
	}
	return view{page: "hauling", title: "Hauling", data: map[string]any{"Rates": found.GetHaulingRates(), "MaySet": v.mayCall(setHauling), "MayCharge": v.mayCall(chargeHauling)}}, nil
}

func (s *site) newHauling(v *visit) (view, error) {
	f := v.form()
	return s.plainTask(v, f, "newhauling", "Rate of a zone", map[string]any{}, func() (string, error) {
		_, err := s.accounts.SetHaulingRate(v.ctx, &settlementv1.SetHaulingRateRequest{RequestId: f.RequestID, HaulingRate: &settlementv1.HaulingRate{
			Zone: strings.ToUpper(f.Value("zone")), EffectiveDate: f.Value("effective_date"), Rate: s.typedPrice(f.Value("rate")), Resolution: f.Value("resolution"),
		}})
		return "/hauling", err
	})
}

// haul charges a delivery that was fetched, and shows who bears what.
func (s *site) haul(v *visit) (view, error) {
	f := v.form()
	if v.posted {
		done, err := s.accounts.ChargeHauling(v.ctx, &settlementv1.ChargeHaulingRequest{
			RequestId: f.RequestID, TicketNumber: strings.ToUpper(f.Value("ticket_number")), Zone: strings.ToUpper(f.Value("zone")),
		})
		if err == nil {
			return view{page: "hauled", title: "Hauling charged", status: http.StatusOK, data: done}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	return view{page: "haul", title: "Charge hauling", data: map[string]any{"Form": f}}, nil
}

// assessment is the national assessment of a month.
func (s *site) assessment(v *visit) (view, error) {
	f := v.form()
	f.set("month", s.Clock.Now().In(s.zone).AddDate(0, -1, 0).Format("2006-01"))
	found, err := s.accounts.GetAssessment(v.ctx, &settlementv1.GetAssessmentRequest{Month: f.Value("month")})
	if err != nil && !f.refused(v, err) {
		return view{}, err
	}
	return view{page: "assessment", title: "Assessment", data: map[string]any{"Form": f, "Found": found}}, nil
}

// checkStatement tells anybody who holds a statement on paper whether it is what was printed.
func (s *site) checkStatement(w http.ResponseWriter, r *http.Request) {
	ctx, cancel := context.WithTimeout(r.Context(), patience)
	defer cancel()
	v := &visit{Request: r, ctx: ctx, site: s}
	f := v.form()
	data := map[string]any{"Form": f}
	if code := strings.ToLower(strings.ReplaceAll(f.Value("code"), " ", "")); code != "" {
		found, err := s.accounts.VerifyStatement(ctx, &settlementv1.VerifyStatementRequest{VerificationCode: code})
		if err != nil && !f.refused(v, err) {
			s.fail(w, v, err)
			return
		}
		data["Found"] = found
	}
	s.draw(w, v, view{page: "checkstatement", title: "Check a statement", data: data})
}
