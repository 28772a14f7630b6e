package app

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/grading/internal/message"
)

// asked is what both kinds of question say.
type asked interface {
	GetMoisturePercent() string
	GetPfundMm() string
	GetFlavor() string
	GetDefects() string
	GetClarity() string
	GetHmfMgPerKg() string
	GetDiastaseNumber() string
	GetConductivityMsPerCm() string
	GetFructoseGlucosePercent() string
	GetSucrosePercent() string
	GetFreeAcidityMeqPerKg() string
	GetInsolublePercent() string
	GetDensityLbPerGal() string
	GetHoneydewPercent() string
	GetStyle() gradingv1.Style
	GetFloralSource() string
	GetClaims() []gradingv1.Claim
	GetMarkedColor() string
	GetSectionWeightOz() string
	GetCapping() string
	GetCombSurface() string
	GetCombUniformity() string
	GetCombSharePercent() string
	GetCombAttachmentPercent() string
	GetCombPieceCount() string
	GetBrokenPieceCount() string
	GetScreenMesh() string
	GetRawReadings() []*gradingv1.RawReading
}

func question(r asked) (domain.Question, []*gradingv1.Measurement, error) {
	q, err := (&domain.Fields{
		domain.Moisture: r.GetMoisturePercent(), domain.Color: r.GetPfundMm(), domain.Flavor: r.GetFlavor(),
		domain.Defects: r.GetDefects(), domain.Clarity: r.GetClarity(), domain.HMF: r.GetHmfMgPerKg(),
		domain.Diastase: r.GetDiastaseNumber(), domain.Conductivity: r.GetConductivityMsPerCm(),
		domain.Sugars: r.GetFructoseGlucosePercent(), domain.Sucrose: r.GetSucrosePercent(),
		domain.Acidity: r.GetFreeAcidityMeqPerKg(), domain.Insolubles: r.GetInsolublePercent(),
		domain.Density: r.GetDensityLbPerGal(), domain.Honeydew: r.GetHoneydewPercent(),
		domain.SectionWeight: r.GetSectionWeightOz(), domain.Capping: r.GetCapping(), domain.CombSurface: r.GetCombSurface(),
		domain.CombUniformity: r.GetCombUniformity(), domain.CombShare: r.GetCombSharePercent(), domain.CombAttachment: r.GetCombAttachmentPercent(),
		domain.CombPieces: r.GetCombPieceCount(), domain.BrokenPieces: r.GetBrokenPieceCount(), domain.ScreenMesh: r.GetScreenMesh(),
	}).Ask(StyleFrom(r.GetStyle()))
	q.Source, q.MarkedColor = strings.ToLower(r.GetFloralSource()), r.GetMarkedColor()
	for _, c := range r.GetClaims() {
		q.Claims = append(q.Claims, domain.Claim(strings.TrimPrefix(c.String(), "CLAIM_")))
	}
	raw := make([]domain.RawReading, 0, len(r.GetRawReadings()))
	for _, in := range r.GetRawReadings() {
		raw = append(raw, domain.RawReading{Kind: domain.Kind(in.GetKind()), Value: in.GetRawValue(), Temperature: in.GetTemperatureC()})
	}
	measured, rawErr := q.MeasureAll(raw)
	out := make([]*gradingv1.Measurement, 0, len(measured))
	for i := range measured {
		out = append(out, message.Measurement(&measured[i], r.GetRawReadings()[i]))
	}
	return q, out, errors.Join(err, rawErr)
}

// Evaluate judges without changing anything, by the code that certifies.
func (a *App) Evaluate(_ context.Context, req *gradingv1.EvaluateRequest) (*gradingv1.Decision, error) {
	standard, err := a.standardFor(req)
	if err != nil {
		return nil, err
	}
	q, measured, err := question(req)
	if err != nil {
		return nil, err
	}
	d, err := standard.Judge(&q)
	if err != nil {
		return nil, err
	}
	answer := message.Decision(&d)
	answer.Measurements = measured
	return answer, nil
}

// standardFor is the version a question means.
func (a *App) standardFor(req *gradingv1.EvaluateRequest) (*domain.Standard, error) {
	if req.GetStandardVersion() != "" {
		return a.Library.Version(req.GetStandard(), req.GetStandardVersion())
	}
	day, err := a.drawDay(req.GetDrawDate())
	if err != nil {
		return nil, err
	}
	return a.Library.InForce(req.GetStandard(), day)
}

// drawDay is the day a question is about; unsaid is today.
func (a *App) drawDay(day string) (string, error) {
	if day == "" {
		return domain.Date(a.now(), a.Zone).Format(time.DateOnly), nil
	}
	if _, err := time.Parse(time.DateOnly, day); err != nil {
		return "", &domain.FieldError{FieldName: "draw_date", Message: fmt.Sprintf("draw_date %q is no day of the calendar", day)}
	}
	return day, nil
}

// CompareStandards judges by every standard at once.
func (a *App) CompareStandards(_ context.Context, req *gradingv1.CompareStandardsRequest) (*gradingv1.CompareStandardsResponse, error) {
	q, measured, err := question(req)
	if err != nil {
		return nil, err
	}
	day, err := a.drawDay(req.GetDrawDate())
	if err != nil {
		return nil, err
	}
	c, err := a.Library.Compare(&q, day)
	if err != nil {
		return nil, err
	}
	answer := &gradingv1.CompareStandardsResponse{Summary: c.Summary, Measurements: measured}
	for i := range c.Decisions {
		answer.Decisions = append(answer.Decisions, message.Decision(&c.Decisions[i]))
	}
	return answer, nil
}

// ListStandards lists every standard with every figure.
func (a *App) ListStandards(context.Context, *gradingv1.ListStandardsRequest) (*gradingv1.ListStandardsResponse, error) {
	answer := &gradingv1.ListStandardsResponse{}
	for _, s := range a.Library.All() {
		answer.Standards = append(answer.Standards, message.Standard(s, a.Library.ReplacedOn(s)))
	}
	return answer, nil
}

// DeriveFacts works out what follows from a composition.
func (*App) DeriveFacts(_ context.Context, req *gradingv1.DeriveFactsRequest) (*gradingv1.DeriveFactsResponse, error) {
	c, err := domain.ParseComposition(domain.CompositionText{
		Moisture: req.GetMoisturePercent(), Yeast: req.GetYeastPerG(), Glucose: req.GetGlucosePercent(), Fructose: req.GetFructosePercent(),
		BottleEmpty: req.GetBottleEmptyG(), BottleWater: req.GetBottleWaterG(), BottleHoney: req.GetBottleHoneyG(),
	})
	if err != nil {
		return nil, err
	}
	answer := &gradingv1.DeriveFactsResponse{}
	for _, f := range c.Derive() {
		answer.Facts = append(answer.Facts, &gradingv1.DerivedFact{
			Id: f.ID, Value: f.Value, Explanation: f.Text, Source: f.Source, Provenance: f.Provenance, Validity: f.Limits,
		})
	}
	return answer, nil
}

// JudgeLot decides on a lot by the published plans.
func (*App) JudgeLot(_ context.Context, req *gradingv1.JudgeLotRequest) (*gradingv1.LotVerdict, error) {
	v, err := domain.JudgeLot(int64(req.GetSampleSize()), int64(req.GetDeviantCount()))
	if err != nil {
		return nil, err
	}
	return &gradingv1.LotVerdict{Accepted: v.Accepted, AcceptanceNumber: int32(v.Most), Explanation: v.Text}, nil //nolint:gosec // at most 7
}

// JudgeOriginShare compares a printed share with the traced one.
func (*App) JudgeOriginShare(_ context.Context, req *gradingv1.JudgeOriginShareRequest) (*gradingv1.OriginShareVerdict, error) {
	v, err := domain.JudgeOriginShare(req.GetTracedPercent(), req.GetPrintedPercent())
	if err != nil {
		return nil, err
	}
	return &gradingv1.OriginShareVerdict{
		Allowed: v.Allowed, LowPercent: v.Low, HighPercent: v.High, Explanation: v.Text, Source: v.Source, Provenance: v.Provenance,
	}, nil
}
