package web

import (
	"fmt"
	"strings"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/kit/quantity"
)

// chart is a control chart: runs in time between the lines at two and three standard deviations.
type chart struct {
	Width, Height int64
	Points        []point
	Path          string
	Target        level
	Warnings      []level
	Actions       []level
}

type level struct {
	Y     int64
	Label string
}

type point struct {
	X, Y         int64
	Value, Class string
}

const (
	chartLeft, chartTop    = 70, 20
	chartStep, chartHeight = 26, 200
	chartDigits            = 4
	mostPoints             = 20
)

// drawChart takes runs newest first, as they are served. Values are drawn, never computed with.
func drawChart(c *gradingv1.Control, runs []*gradingv1.ControlRun) *chart {
	low, err := quantity.ParseFixed(c.GetActionLow(), chartDigits)
	if err != nil {
		return nil
	}
	high, err := quantity.ParseFixed(c.GetActionHigh(), chartDigits)
	if err != nil || high <= low {
		return nil
	}
	// A sixth of the band is one standard deviation: that much room above and below.
	room := (high - low) / 6
	y := func(text string) int64 {
		v, err := quantity.ParseFixed(text, chartDigits)
		if err != nil {
			return 0
		}
		v = min(max(v, low-room), high+room)
		return chartTop + (high+room-v)*chartHeight/(high-low+2*room)
	}
	line := func(text string) level { return level{Y: y(text), Label: text} }
	drawn := &chart{
		Height: chartHeight + 2*chartTop, Target: line(c.GetTarget()),
		Warnings: []level{line(c.GetWarningLow()), line(c.GetWarningHigh())}, Actions: []level{line(c.GetActionLow()), line(c.GetActionHigh())},
	}
	runs = runs[:min(len(runs), mostPoints)]
	drawn.Width = chartLeft + chartStep*(int64(max(len(runs), 8))+1)
	var path strings.Builder
	for i := range runs {
		run := runs[len(runs)-1-i]
		p := point{X: chartLeft + chartStep*int64(i+1), Y: y(run.GetValue()), Value: run.GetValue(), Class: words(run.GetVerdict())}
		drawn.Points = append(drawn.Points, p)
		command := "L"
		if i == 0 {
			command = "M"
		}
		fmt.Fprintf(&path, "%s%d %d", command, p.X, p.Y)
	}
	drawn.Path = path.String()
	return drawn
}

type controlView struct {
	*gradingv1.Control
	Runs  []*gradingv1.ControlRun
	Chart *chart
}

// controls shows whether the bench may be trusted today, each control with its chart.
func (s *site) controls(v *visit) (view, error) {
	found, err := s.grading.ListControls(v.ctx, &gradingv1.ListControlsRequest{})
	if err != nil {
		return view{}, err
	}
	var views []controlView
	closed := 0
	for _, c := range found.GetControls() {
		runs, err := s.grading.ListControlRuns(v.ctx, &gradingv1.ListControlRunsRequest{Control: c.GetName(), PageSize: mostPoints})
		if err != nil {
			return view{}, err
		}
		if c.GetClosedBy() != "" {
			closed++
		}
		views = append(views, controlView{Control: c, Runs: runs.GetRuns(), Chart: drawChart(c, runs.GetRuns())})
	}
	return view{page: "controls", title: "Controls", data: map[string]any{
		"Controls": views, "Closed": closed, "MayRun": v.mayCall(runControl), "MayConfirm": v.mayCall(confirmResults),
		"MayAdd": v.mayCall(createControl), "MayRetire": v.mayCall(retireControl),
	}}, nil
}

// runOfControl enters one run.
func (s *site) runOfControl(v *visit) (view, error) {
	f := v.form()
	name := "controls/" + v.PathValue("id")
	if v.posted {
		run, err := s.grading.RecordControlRun(v.ctx, &gradingv1.RecordControlRunRequest{
			RequestId: f.RequestID, Control: name, Kind: gradingv1.ReadingKind(gradingv1.ReadingKind_value["READING_KIND_"+f.Value("kind")]),
			RawValue: strings.ReplaceAll(f.Value("raw_value"), ",", "."), TemperatureC: strings.ReplaceAll(f.Value("temperature_c"), ",", "."), Instrument: f.Value("instrument"),
		})
		if err == nil {
			return view{page: "controlled", title: "Control " + idOf(name), status: 200, data: run, cookie: v.keepInstrument(f)}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	var kinds []option
	for _, m := range methods {
		kinds = append(kinds, option{Value: m.kind, Label: m.label})
	}
	return view{page: "control", title: "Run control " + idOf(name), data: map[string]any{"Form": f, "Control": name, "Kinds": kinds, "Bench": v.usual(f, nil)}}, nil
}

// confirmResults declares doubted results good after all.
func (s *site) confirmResults(v *visit) (view, error) {
	f := v.form()
	if v.posted {
		_, err := s.grading.ConfirmResults(v.ctx, &gradingv1.ConfirmResultsRequest{
			RequestId: f.RequestID, ControlRun: "controlRuns/" + v.PathValue("id"), Reason: f.Value("reason"),
		})
		if err == nil {
			return view{goTo: "/controls"}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	return view{page: "confirm", title: "Confirm results", data: map[string]any{"Form": f}}, nil
}

// verified is the one page for strangers: whether a certificate somebody holds is ours and stands.
func (s *site) verified(v *visit) (view, error) {
	found, err := s.grading.VerifyCertificate(v.ctx, &gradingv1.VerifyCertificateRequest{Name: "certificates/" + v.PathValue("id")})
	if err != nil {
		return view{}, err
	}
	return view{page: "verified", title: "Certificate " + found.GetNumber(), data: found}, nil
}
