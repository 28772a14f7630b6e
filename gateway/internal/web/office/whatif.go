package office

import (
	"strconv"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	"barrelhead.example/gateway/internal/wording"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// The RPCs behind the pages a member asks questions on, and the office's lists about members.
const (
	estimate     = settlementv1.SettlementService_EstimatePayout_FullMethodName
	getStatement = settlementv1.SettlementService_GetStatement_FullMethodName
)

// memberPages are what a member looks up, and what the office keeps about one.
func (s room) memberPages() map[string]site.Page {
	return map[string]site.Page{
		"/what-if":                     {Needs: estimate, Show: s.whatIf},
		"/payouts/{id}/what-if":        {Needs: getPayout, Show: s.whatIfBarrel},
		"/deliveries":                  {Role: accessv1.Role_ROLE_MEMBER, Show: s.deliveries},
		"/statements":                  {Role: accessv1.Role_ROLE_MEMBER, Show: s.ownStatements},
		"/members/{number}/statements": {Needs: getStatement, Show: s.statements},
		"/members/{number}/statements/{year}/read": {Needs: getStatement, Show: s.readStatement},
		"/members/import":                          {Needs: createMember, Show: s.importMembers, Form: true},
	}
}

var colourOptions = site.NewOptions("WATER_WHITE", "water white", "EXTRA_WHITE", "extra white", "WHITE", "white", "EXTRA_LIGHT_AMBER", "extra light amber", "LIGHT_AMBER", "light amber", "AMBER", "amber", "DARK_AMBER", "dark amber")

var gradeOptions = site.NewOptions("A", "A", "B", "B", "C", "C", "SUBSTANDARD", "substandard")

// whatIf prices a barrel that is not there, by the engine that prices real ones. Nothing is stored.
func (s room) whatIf(v *site.Visit) (site.View, error) {
	f := v.Form()
	f.Set("delivery_date", s.Clock.Now().In(s.Zone).Format("2006-01-02"))
	f.Set("crop_year", f.Value("delivery_date")[:min(4, len(f.Value("delivery_date")))])
	return s.estimated(v, f, f.Value("net") != "", nil)
}

// whatIfBarrel starts from a barrel as it was paid: what would another reading have meant?
func (s room) whatIfBarrel(v *site.Visit) (site.View, error) {
	f := v.Form()
	p, err := s.readPayout(v)
	if err != nil {
		return site.View{}, err
	}
	f.Set("delivery_date", p.GetDeliveryDate())
	f.Set("crop_year", strconv.Itoa(int(p.GetCropYear())))
	f.Set("net", p.GetNet().GetValue())
	for _, line := range p.GetLines() {
		for _, name := range []string{"variety", "color_class", "grade", "moisture_percent"} {
			if value, known := line.GetExplanation().GetInputs()[name]; known {
				f.Set(name, value)
			}
		}
	}
	return s.estimated(v, f, v.URL.RawQuery != "", p)
}

func (s room) estimated(v *site.Visit, f *site.Form, asked bool, paid *settlementv1.Payout) (site.View, error) {
	d := map[string]any{"Form": f, "Unit": wording.Words(s.Cooperative.Unit), "Paid": paid, "Colours": colourOptions, "Grades": gradeOptions, "Own": v.OnlyMember()}
	title := "What would a barrel earn?"
	if paid != nil {
		title = "What if barrel " + paid.GetDrumTag() + " were different?"
	}
	if asked {
		found, err := s.Settlement.EstimatePayout(v.Ctx, &settlementv1.EstimatePayoutRequest{
			Variety: strings.ToLower(f.Value("variety")), CropYear: site.Few(f.Value("crop_year")), DeliveryDate: f.Value("delivery_date"),
			Net: s.MassOr(f.Value("net")), MoisturePercent: site.Number(f.Value("moisture_percent")), ColorClass: f.Value("color_class"), Grade: f.Value("grade"), Schedule: f.Value("schedule"),
		})
		if err != nil && !f.Refused(v, err) {
			return site.View{}, err
		}
		if err == nil {
			d["Estimate"] = found
			if paid != nil {
				d["Difference"] = compareMoney(paid.GetNetAmount(), found.GetNetAmount())
			}
		}
	}
	return site.View{Page: "whatif", Title: title, Data: d}, nil
}
