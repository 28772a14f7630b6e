package office

import (
	"net/http"
	"strconv"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
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
func (s room) yearEndPages() map[string]site.Page {
	return map[string]site.Page{
		"/tax":                         {Needs: listTaxRecords, Show: s.taxRecords},
		"/members/{number}/tax/{year}": {Needs: getTaxRecord, Show: s.taxRecord},
		"/refunds":                     {Needs: listRefunds, Show: s.refunds},
		"/refunds/new":                 {Needs: allocateRefund, Show: s.newRefund, Form: true},
		"/retains/designate":           {Needs: designateRetains, Show: s.designate, Form: true},
		"/hauling":                     {Needs: listHauling, Show: s.hauling},
		"/hauling/new":                 {Needs: setHauling, Show: s.newHauling, Form: true},
		"/hauling/charge":              {Needs: chargeHauling, Show: s.haul, Form: true},
		"/assessment":                  {Needs: getAssessment, Show: s.assessment},
	}
}

// taxRecords lists a calendar year by the boxes of the form, for the accountant.
func (s room) taxRecords(v *site.Visit) (site.View, error) {
	f := v.Form()
	f.Set("year", strconv.Itoa(s.Clock.Now().In(s.Zone).Year()))
	year, _ := strconv.ParseInt(f.Value("year"), 10, 32) // what is no number is refused by its range
	found, err := s.Accounts.ListTaxRecords(v.Ctx, &settlementv1.ListTaxRecordsRequest{Year: int32(year)})
	if err != nil && !f.Refused(v, err) {
		return site.View{}, err
	}
	must := 0
	for _, r := range found.GetTaxRecords() {
		if r.GetMustFile() {
			must++
		}
	}
	return site.View{Page: "taxrecords", Title: "Tax figures", Data: map[string]any{"Form": f, "Year": year, "List": found, "Must": must}}, nil
}

// taxRecord is one member's calendar year.
func (s room) taxRecord(v *site.Visit) (site.View, error) {
	year, err := strconv.ParseInt(v.PathValue("year"), 10, 32)
	if err != nil {
		return site.View{}, site.ErrNoPage
	}
	member := "members/" + v.PathValue("number")
	found, err := s.Accounts.GetTaxRecord(v.Ctx, &settlementv1.GetTaxRecordRequest{Member: member, Year: int32(year)})
	if err != nil {
		return site.View{}, err
	}
	own, back := v.BackTo(member)
	return site.View{Page: "taxrecord", Title: "Tax figures " + v.PathValue("year"), Data: map[string]any{"Record": found, "Own": own, "Back": back}}, nil
}

func (s room) refunds(v *site.Visit) (site.View, error) {
	found, err := s.Accounts.ListPatronageRefunds(v.Ctx, &settlementv1.ListPatronageRefundsRequest{})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "refunds", Title: "Patronage refunds", Data: map[string]any{
		"Refunds": found.GetPatronageRefunds(), "MayAllocate": v.MayCall(allocateRefund), "MayDesignate": v.MayCall(designateRetains),
	}}, nil
}

// newRefund records the board's resolution to share a year's earnings.
func (s room) newRefund(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.PlainTask(v, f, "newrefund", "Share a year's earnings", map[string]any{}, func() (string, error) {
		year, _ := strconv.ParseInt(f.Value("crop_year"), 10, 32) // what is no number is refused by its range
		_, err := s.Accounts.AllocatePatronage(v.Ctx, &settlementv1.AllocatePatronageRequest{
			RequestId: f.RequestID, CropYear: int32(year), FiscalYearEnd: f.Value("fiscal_year_end"), Total: s.TypedMoney(f.Value("total")),
			CashPercent: site.Number(f.Value("cash_percent")), Qualified: f.Value("class") == "QUALIFIED", Consent: f.Value("consent"), Resolution: f.Value("resolution"),
		})
		return "/refunds", err
	})
}

// designate records what certificates a crop year's retains stand on.
func (s room) designate(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.PlainTask(v, f, "designate", "Certificates of a crop year", map[string]any{}, func() (string, error) {
		year, _ := strconv.ParseInt(f.Value("crop_year"), 10, 32) // what is no number is refused by its range
		_, err := s.Accounts.DesignateRetains(v.Ctx, &settlementv1.DesignateRetainsRequest{
			RequestId: f.RequestID, CropYear: int32(year), Qualified: f.Value("class") == "QUALIFIED", Consent: f.Value("consent"), Resolution: f.Value("resolution"),
		})
		return "/refunds", err
	})
}

func (s room) hauling(v *site.Visit) (site.View, error) {
	found, err := s.Accounts.ListHaulingRates(v.Ctx, &settlementv1.ListHaulingRatesRequest{})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "hauling", Title: "Hauling", Data: map[string]any{"Rates": found.GetHaulingRates(), "MaySet": v.MayCall(setHauling), "MayCharge": v.MayCall(chargeHauling)}}, nil
}

func (s room) newHauling(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.PlainTask(v, f, "newhauling", "Rate of a zone", map[string]any{}, func() (string, error) {
		_, err := s.Accounts.SetHaulingRate(v.Ctx, &settlementv1.SetHaulingRateRequest{RequestId: f.RequestID, HaulingRate: &settlementv1.HaulingRate{
			Zone: strings.ToUpper(f.Value("zone")), EffectiveDate: f.Value("effective_date"), Rate: s.TypedPrice(f.Value("rate")), Resolution: f.Value("resolution"),
		}})
		return "/hauling", err
	})
}

// haul charges a delivery that was fetched, and shows who bears what.
func (s room) haul(v *site.Visit) (site.View, error) {
	f := v.Form()
	if v.Posted {
		done, err := s.Accounts.ChargeHauling(v.Ctx, &settlementv1.ChargeHaulingRequest{
			RequestId: f.RequestID, TicketNumber: strings.ToUpper(f.Value("ticket_number")), Zone: strings.ToUpper(f.Value("zone")),
		})
		if err == nil {
			return site.View{Page: "hauled", Title: "Hauling charged", Status: http.StatusOK, Data: done}, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	return site.View{Page: "haul", Title: "Charge hauling", Data: map[string]any{"Form": f}}, nil
}

// assessment is the national assessment of a month.
func (s room) assessment(v *site.Visit) (site.View, error) {
	f := v.Form()
	f.Set("month", s.Clock.Now().In(s.Zone).AddDate(0, -1, 0).Format("2006-01"))
	found, err := s.Accounts.GetAssessment(v.Ctx, &settlementv1.GetAssessmentRequest{Month: f.Value("month")})
	if err != nil && !f.Refused(v, err) {
		return site.View{}, err
	}
	return site.View{Page: "assessment", Title: "Assessment", Data: map[string]any{"Form": f, "Found": found}}, nil
}

// checkStatement tells anybody who holds a statement on paper whether it is what was printed.
func (s room) checkStatement(v *site.Visit) (site.View, error) {
	f := v.Form()
	data := map[string]any{"Form": f}
	if code := strings.ToLower(strings.ReplaceAll(f.Value("code"), " ", "")); code != "" {
		found, err := s.Accounts.VerifyStatement(v.Ctx, &settlementv1.VerifyStatementRequest{VerificationCode: code})
		if err != nil && !f.Refused(v, err) {
			return site.View{}, err
		}
		data["Found"] = found
	}
	return site.View{Page: "checkstatement", Title: "Check a statement", Data: data}, nil
}
