package lab

import (
	"fmt"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	"barrelhead.example/gateway/internal/wording"
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
		p := point{X: chartLeft + chartStep*int64(i+1), Y: y(run.GetValue()), Value: run.GetValue(), Class: wording.Words(run.GetVerdict())}
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
func (s room) controls(v *site.Visit) (site.View, error) {
	found, err := s.Grading.ListControls(v.Ctx, &gradingv1.ListControlsRequest{})
	if err != nil {
		return site.View{}, err
	}
	var views []controlView
	closed := 0
	for _, c := range found.GetControls() {
		runs, err := s.Grading.ListControlRuns(v.Ctx, &gradingv1.ListControlRunsRequest{Control: c.GetName(), PageSize: mostPoints})
		if err != nil {
			return site.View{}, err
		}
		if c.GetClosedBy() != "" {
			closed++
		}
		views = append(views, controlView{Control: c, Runs: runs.GetRuns(), Chart: drawChart(c, runs.GetRuns())})
	}
	return site.View{Page: "controls", Title: "Controls", Data: map[string]any{
		"Controls": views, "Closed": closed, "MayRun": v.MayCall(runControl), "MayConfirm": v.MayCall(confirmResults),
		"MayAdd": v.MayCall(createControl), "MayRetire": v.MayCall(retireControl),
	}}, nil
}

// runOfControl enters one run.
func (s room) runOfControl(v *site.Visit) (site.View, error) {
	f := v.Form()
	name := "controls/" + v.PathValue("id")
	if v.Posted {
		run, err := s.Grading.RecordControlRun(v.Ctx, &gradingv1.RecordControlRunRequest{
			RequestId: f.RequestID, Control: name, Kind: gradingv1.ReadingKind(gradingv1.ReadingKind_value["READING_KIND_"+f.Value("kind")]),
			RawValue: strings.ReplaceAll(f.Value("raw_value"), ",", "."), TemperatureC: strings.ReplaceAll(f.Value("temperature_c"), ",", "."), Instrument: f.Value("instrument"),
		})
		if err == nil {
			return site.View{Page: "controlled", Title: "Control " + site.IDOf(name), Status: 200, Data: run, Cookie: keepInstrument(v, f)}, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	var kinds []site.Option
	for _, m := range methods {
		kinds = append(kinds, site.Option{Value: m.kind, Label: m.label})
	}
	return site.View{Page: "control", Title: "Run control " + site.IDOf(name), Data: map[string]any{"Form": f, "Control": name, "Kinds": kinds, "Bench": usual(v, f, nil)}}, nil
}

// confirmResults declares doubted results good after all.
func (s room) confirmResults(v *site.Visit) (site.View, error) {
	f := v.Form()
	if v.Posted {
		_, err := s.Grading.ConfirmResults(v.Ctx, &gradingv1.ConfirmResultsRequest{
			RequestId: f.RequestID, ControlRun: "controlRuns/" + v.PathValue("id"), Reason: f.Value("reason"),
		})
		if err == nil {
			return site.View{GoTo: "/controls"}, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	return site.View{Page: "confirm", Title: "Confirm results", Data: map[string]any{"Form": f}}, nil
}

// verified tells anybody whether a certificate they hold is ours and stands.
func (s room) verified(v *site.Visit) (site.View, error) {
	// The question is asked as a stranger's, whoever asks: no login may come to stand in the laboratory's records.
	if who, err := s.Door.Visitor(v.Request); err == nil {
		v.Who = who
	}
	found, err := s.Grading.VerifyCertificate(v.Ctx, &gradingv1.VerifyCertificateRequest{Name: "certificates/" + v.PathValue("id")})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "verified", Title: "Certificate " + found.GetNumber(), Data: found}, nil
}
