package office

import (
	"fmt"
	"strconv"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	"barrelhead.example/gateway/internal/wording"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

func (s room) schedules(v *site.Visit) (site.View, error) {
	found, err := s.Settlement.ListSchedules(v.Ctx, &settlementv1.ListSchedulesRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "schedules", Title: "Price schedules", Data: map[string]any{
		"Schedules": found.GetSchedules(), "Next": site.NextPage(v, found.GetNextPageToken()), "MayDraft": v.MayCall(createSchedule),
	}}, nil
}

func (s room) readSchedule(v *site.Visit) (*settlementv1.Schedule, error) {
	return s.Settlement.GetSchedule(v.Ctx, &settlementv1.GetScheduleRequest{Name: "schedules/" + v.PathValue("id")})
}

func (s room) schedule(v *site.Visit) (site.View, error) {
	found, err := s.readSchedule(v)
	if err != nil {
		return site.View{}, err
	}
	draft := found.GetState() == settlementv1.ScheduleState_SCHEDULE_STATE_DRAFT
	return site.View{Page: "schedule", Title: scheduleTitle(found), Data: map[string]any{
		"Schedule": found, "Draft": draft, "MayAdopt": draft && v.MayCall(adoptSchedule),
	}}, nil
}

func scheduleTitle(sc *settlementv1.Schedule) string {
	return fmt.Sprintf("Prices %d, version %d", sc.GetCropYear(), sc.GetVersion())
}

func (s room) adoptSchedule(v *site.Visit) (site.View, error) {
	f := v.Form()
	if v.Posted {
		done, err := s.Settlement.AdoptSchedule(v.Ctx, &settlementv1.AdoptScheduleRequest{
			RequestId: f.RequestID, Name: "schedules/" + v.PathValue("id"), Resolution: f.Value("resolution"),
		})
		if err == nil {
			return site.View{GoTo: "/schedules/" + site.IDOf(done.GetName())}, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	found, err := s.readSchedule(v)
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "adopt", Title: "Adopt: " + scheduleTitle(found), Data: map[string]any{"Form": f, "Schedule": found}}, nil
}

// newSchedule drafts a schedule from lines as they come out of a spreadsheet.
func (s room) newSchedule(v *site.Visit) (site.View, error) {
	f := v.Form()
	f.Set("base_percent", "18.6")
	if v.Posted {
		draft := s.typedSchedule(f)
		if f.Problem == "" {
			made, err := s.Settlement.CreateSchedule(v.Ctx, &settlementv1.CreateScheduleRequest{RequestId: f.RequestID, Schedule: draft})
			if err == nil {
				return site.View{GoTo: "/schedules/" + site.IDOf(made.GetName())}, nil
			}
			if !f.Refused(v, err) {
				return site.View{}, err
			}
		}
	}
	return site.View{Page: "newschedule", Title: "Draft prices", Data: map[string]any{"Form": f, "Unit": wording.Words(s.Cooperative.Unit)}}, nil
}

func (s room) typedSchedule(f *site.Form) *settlementv1.Schedule {
	year, _ := strconv.ParseInt(f.Value("crop_year"), 10, 32) // what is no number is refused by its range
	draft := &settlementv1.Schedule{
		CropYear: int32(year), EffectiveDate: f.Value("effective_date"),
		MoistureRule: &settlementv1.MoistureRule{BasePercent: f.Value("base_percent")},
	}
	if step := f.Value("step_per_tenth"); step != "" {
		draft.MoistureRule.StepPerTenth = s.TypedPrice(step)
	}
	for n, cells := range site.LinesOf(f.Value("rows")) {
		if len(cells) != 4 {
			f.BadLine("rows", n, "source, colour, grade and price")
			continue
		}
		variety := strings.ToLower(cells[0])
		if variety == "any" || variety == "*" {
			variety = ""
		}
		draft.Rows = append(draft.Rows, &settlementv1.PriceRow{
			Variety: variety, ColorClass: strings.ReplaceAll(strings.ToUpper(cells[1]), " ", "_"),
			Grade: strings.ToUpper(cells[2]), Advance: s.TypedPrice(cells[3]),
		})
	}
	for n, cells := range site.LinesOf(f.Value("deductions")) {
		if len(cells) != 5 {
			f.BadLine("deductions", n, "code, what the member reads, authority, basis and rate")
			continue
		}
		draft.Deductions = append(draft.Deductions, s.typedDeduction(cells))
	}
	return draft
}

func (s room) typedDeduction(cells []string) *settlementv1.DeductionRule {
	d := &settlementv1.DeductionRule{Code: strings.ToUpper(cells[0]), Description: cells[1], Authority: cells[2]}
	switch strings.ToLower(cells[3]) {
	case "net":
		d.Basis, d.Rate = settlementv1.DeductionBasis_DEDUCTION_BASIS_NET_WEIGHT, s.TypedPrice(cells[4])
	case "payable":
		d.Basis, d.Rate = settlementv1.DeductionBasis_DEDUCTION_BASIS_PAYABLE_WEIGHT, s.TypedPrice(cells[4])
	case "barrel":
		d.Basis = settlementv1.DeductionBasis_DEDUCTION_BASIS_BARREL
		d.Amount = &typev1.Money{Amount: cells[4], CurrencyCode: s.Cooperative.Currency}
	}
	return d
}
