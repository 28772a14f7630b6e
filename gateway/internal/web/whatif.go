package web

import (
	"strconv"
	"strings"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// The RPCs behind the pages a member asks questions on, and the office's lists about members.
const (
	estimate     = settlementv1.SettlementService_EstimatePayout_FullMethodName
	getStatement = settlementv1.SettlementService_GetStatement_FullMethodName
)

// memberPages are what a member looks up, and what the office keeps about one.
func (s *site) memberPages() map[string]page {
	return map[string]page{
		"/what-if":                     {needs: estimate, show: s.whatIf},
		"/payouts/{id}/what-if":        {needs: getPayout, show: s.whatIfBarrel},
		"/deliveries":                  {role: memberRole, show: s.deliveries},
		"/statements":                  {role: memberRole, show: s.ownStatements},
		"/members/{number}/statements": {needs: getStatement, show: s.statements},
		"/members/{number}/statements/{year}/read": {needs: getStatement, show: s.readStatement},
		"/members/{number}/splits":                 {needs: listSplits, show: s.splits},
		"/members/{number}/splits/new":             {needs: setSplit, show: s.newSplit, form: true},
		"/members/import":                          {needs: createMember, show: s.importMembers, form: true},
	}
}

var colourOptions = newOptions("WATER_WHITE", "water white", "EXTRA_WHITE", "extra white", "WHITE", "white", "EXTRA_LIGHT_AMBER", "extra light amber", "LIGHT_AMBER", "light amber", "AMBER", "amber", "DARK_AMBER", "dark amber")

var gradeOptions = newOptions("A", "A", "B", "B", "C", "C", "SUBSTANDARD", "substandard")

// whatIf prices a barrel that is not there, by the engine that prices real ones. Nothing is stored.
func (s *site) whatIf(v *visit) (view, error) {
	f := v.form()
	f.set("delivery_date", s.Clock.Now().In(s.zone).Format("2006-01-02"))
	f.set("crop_year", f.Value("delivery_date")[:min(4, len(f.Value("delivery_date")))])
	return s.estimated(v, f, f.Value("net") != "", nil)
}

// whatIfBarrel starts from a barrel as it was paid: what would another reading have meant?
func (s *site) whatIfBarrel(v *visit) (view, error) {
	f := v.form()
	p, err := s.readPayout(v)
	if err != nil {
		return view{}, err
	}
	f.set("delivery_date", p.GetDeliveryDate())
	f.set("crop_year", strconv.Itoa(int(p.GetCropYear())))
	f.set("net", p.GetNet().GetValue())
	for _, line := range p.GetLines() {
		for _, name := range []string{"variety", "color_class", "grade", "moisture_percent"} {
			if value, known := line.GetExplanation().GetInputs()[name]; known {
				f.set(name, value)
			}
		}
	}
	return s.estimated(v, f, v.URL.RawQuery != "", p)
}

func (s *site) estimated(v *visit, f *form, asked bool, paid *settlementv1.Payout) (view, error) {
	d := map[string]any{"Form": f, "Unit": words(s.Cooperative.Unit), "Paid": paid, "Colours": colourOptions, "Grades": gradeOptions, "Own": v.onlyMember()}
	title := "What would a barrel earn?"
	if paid != nil {
		title = "What if barrel " + paid.GetDrumTag() + " were different?"
	}
	if asked {
		found, err := s.settlement.EstimatePayout(v.ctx, &settlementv1.EstimatePayoutRequest{
			Variety: strings.ToLower(f.Value("variety")), CropYear: few(f.Value("crop_year")), DeliveryDate: f.Value("delivery_date"),
			Net: s.massOr(f.Value("net")), MoisturePercent: decimal(f.Value("moisture_percent")), ColorClass: f.Value("color_class"), Grade: f.Value("grade"), Schedule: f.Value("schedule"),
		})
		if err != nil && !f.refused(v, err) {
			return view{}, err
		}
		if err == nil {
			d["Estimate"] = found
			if paid != nil {
				d["Difference"] = compareMoney(paid.GetNetAmount(), found.GetNetAmount())
			}
		}
	}
	return view{page: "whatif", title: title, data: d}, nil
}
