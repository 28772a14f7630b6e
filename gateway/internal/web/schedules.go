package web

import (
	"fmt"
	"strconv"
	"strings"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

func (s *site) schedules(v *visit) (view, error) {
	found, err := s.settlement.ListSchedules(v.ctx, &settlementv1.ListSchedulesRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	return view{page: "schedules", title: "Price schedules", data: map[string]any{
		"Schedules": found.GetSchedules(), "Next": nextPage(v, found.GetNextPageToken()), "MayDraft": v.mayCall(createSchedule),
	}}, nil
}

func (s *site) readSchedule(v *visit) (*settlementv1.Schedule, error) {
	return s.settlement.GetSchedule(v.ctx, &settlementv1.GetScheduleRequest{Name: "schedules/" + v.PathValue("id")})
}

func (s *site) schedule(v *visit) (view, error) {
	found, err := s.readSchedule(v)
	if err != nil {
		return view{}, err
	}
	draft := found.GetState() == settlementv1.ScheduleState_SCHEDULE_STATE_DRAFT
	return view{page: "schedule", title: scheduleTitle(found), data: map[string]any{
		"Schedule": found, "Draft": draft, "MayAdopt": draft && v.mayCall(adoptSchedule),
	}}, nil
}

func scheduleTitle(sc *settlementv1.Schedule) string {
	return fmt.Sprintf("Prices %d, version %d", sc.GetCropYear(), sc.GetVersion())
}

func (s *site) adoptSchedule(v *visit) (view, error) {
	f := v.form()
	if v.posted {
		done, err := s.settlement.AdoptSchedule(v.ctx, &settlementv1.AdoptScheduleRequest{
			RequestId: f.RequestID, Name: "schedules/" + v.PathValue("id"), Resolution: f.Value("resolution"),
		})
		if err == nil {
			return view{goTo: "/schedules/" + idOf(done.GetName())}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	found, err := s.readSchedule(v)
	if err != nil {
		return view{}, err
	}
	return view{page: "adopt", title: "Adopt: " + scheduleTitle(found), data: map[string]any{"Form": f, "Schedule": found}}, nil
}

// newSchedule drafts a schedule from lines as they come out of a spreadsheet.
func (s *site) newSchedule(v *visit) (view, error) {
	f := v.form()
	f.set("base_percent", "18.6")
	if v.posted {
		draft := s.typedSchedule(f)
		if f.Problem == "" {
			made, err := s.settlement.CreateSchedule(v.ctx, &settlementv1.CreateScheduleRequest{RequestId: f.RequestID, Schedule: draft})
			if err == nil {
				return view{goTo: "/schedules/" + idOf(made.GetName())}, nil
			}
			if !f.refused(v, err) {
				return view{}, err
			}
		}
	}
	return view{page: "newschedule", title: "Draft prices", data: map[string]any{"Form": f, "Unit": words(s.Cooperative.Unit)}}, nil
}

func (s *site) typedSchedule(f *form) *settlementv1.Schedule {
	year, _ := strconv.ParseInt(f.Value("crop_year"), 10, 32) // what is no number is refused by its range
	draft := &settlementv1.Schedule{
		CropYear: int32(year), EffectiveDate: f.Value("effective_date"),
		MoistureRule: &settlementv1.MoistureRule{BasePercent: f.Value("base_percent")},
	}
	if step := f.Value("step_per_tenth"); step != "" {
		draft.MoistureRule.StepPerTenth = s.typedPrice(step)
	}
	for n, cells := range linesOf(f.Value("rows")) {
		if len(cells) != 4 {
			f.badLine("rows", n, "source, colour, grade and price")
			continue
		}
		variety := strings.ToLower(cells[0])
		if variety == "any" || variety == "*" {
			variety = ""
		}
		draft.Rows = append(draft.Rows, &settlementv1.PriceRow{
			Variety: variety, ColorClass: strings.ReplaceAll(strings.ToUpper(cells[1]), " ", "_"),
			Grade: strings.ToUpper(cells[2]), Advance: s.typedPrice(cells[3]),
		})
	}
	for n, cells := range linesOf(f.Value("deductions")) {
		if len(cells) != 5 {
			f.badLine("deductions", n, "code, what the member reads, authority, basis and rate")
			continue
		}
		draft.Deductions = append(draft.Deductions, s.typedDeduction(cells))
	}
	return draft
}

func (s *site) typedDeduction(cells []string) *settlementv1.DeductionRule {
	d := &settlementv1.DeductionRule{Code: strings.ToUpper(cells[0]), Description: cells[1], Authority: cells[2]}
	switch strings.ToLower(cells[3]) {
	case "net":
		d.Basis, d.Rate = settlementv1.DeductionBasis_DEDUCTION_BASIS_NET_WEIGHT, s.typedPrice(cells[4])
	case "payable":
		d.Basis, d.Rate = settlementv1.DeductionBasis_DEDUCTION_BASIS_PAYABLE_WEIGHT, s.typedPrice(cells[4])
	case "barrel":
		d.Basis = settlementv1.DeductionBasis_DEDUCTION_BASIS_BARREL
		d.Amount = &typev1.Money{Amount: cells[4], CurrencyCode: s.Cooperative.Currency}
	}
	return d
}

func (s *site) typedPrice(typed string) *typev1.Price {
	return &typev1.Price{Amount: strings.TrimPrefix(typed, "$"), CurrencyCode: s.Cooperative.Currency, PerUnit: s.Cooperative.Unit}
}

func (f *form) badLine(field string, n int, want string) {
	f.Problem = fmt.Sprintf("Line %d of %s cannot be read: it needs %s, with semicolons or tabs between them.", n+1, field, want)
	f.faults[field] = f.Problem
}

// linesOf parts pasted lines into cells at tabs or, without one, semicolons.
func linesOf(text string) [][]string {
	var lines [][]string
	for line := range strings.Lines(text) {
		line = strings.TrimSpace(line)
		if line == "" {
			continue
		}
		separator := ";"
		if strings.Contains(line, "\t") {
			separator = "\t"
		}
		cells := strings.Split(line, separator)
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		lines = append(lines, cells)
	}
	return lines
}
