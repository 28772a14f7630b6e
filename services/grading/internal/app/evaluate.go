package app

import (
	"context"
	"strings"

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
}

func question(r asked) (domain.Question, error) {
	q, err := domain.Ask(StyleFrom(r.GetStyle()), map[domain.Factor]string{
		domain.Moisture: r.GetMoisturePercent(), domain.Color: r.GetPfundMm(), domain.Flavor: r.GetFlavor(),
		domain.Defects: r.GetDefects(), domain.Clarity: r.GetClarity(), domain.HMF: r.GetHmfMgPerKg(),
		domain.Diastase: r.GetDiastaseNumber(), domain.Conductivity: r.GetConductivityMsPerCm(),
		domain.Sugars: r.GetFructoseGlucosePercent(), domain.Sucrose: r.GetSucrosePercent(),
		domain.Acidity: r.GetFreeAcidityMeqPerKg(), domain.Insolubles: r.GetInsolublePercent(),
		domain.Density: r.GetDensityLbPerGal(), domain.Honeydew: r.GetHoneydewPercent(),
	})
	q.Source, q.MarkedColor = strings.ToLower(r.GetFloralSource()), r.GetMarkedColor()
	for _, c := range r.GetClaims() {
		q.Claims = append(q.Claims, domain.Claim(strings.TrimPrefix(c.String(), "CLAIM_")))
	}
	return q, err
}

// Evaluate judges without changing anything, by the code that certifies.
func (a *App) Evaluate(_ context.Context, req *gradingv1.EvaluateRequest) (*gradingv1.Decision, error) {
	standard, err := a.Library.Find(req.GetStandard())
	if err != nil {
		return nil, err
	}
	q, err := question(req)
	if err != nil {
		return nil, err
	}
	d, err := standard.Judge(&q)
	if err != nil {
		return nil, err
	}
	return message.Decision(&d), nil
}

// CompareStandards judges by every standard at once.
func (a *App) CompareStandards(_ context.Context, req *gradingv1.CompareStandardsRequest) (*gradingv1.CompareStandardsResponse, error) {
	q, err := question(req)
	if err != nil {
		return nil, err
	}
	c, err := a.Library.Compare(&q)
	if err != nil {
		return nil, err
	}
	answer := &gradingv1.CompareStandardsResponse{Summary: c.Summary}
	for i := range c.Decisions {
		answer.Decisions = append(answer.Decisions, message.Decision(&c.Decisions[i]))
	}
	return answer, nil
}

// ListStandards lists every standard with every figure.
func (a *App) ListStandards(context.Context, *gradingv1.ListStandardsRequest) (*gradingv1.ListStandardsResponse, error) {
	answer := &gradingv1.ListStandardsResponse{}
	for _, s := range a.Library.All() {
		answer.Standards = append(answer.Standards, message.Standard(s))
	}
	return answer, nil
}

// DeriveFacts works out what follows from a composition.
func (*App) DeriveFacts(_ context.Context, req *gradingv1.DeriveFactsRequest) (*gradingv1.DeriveFactsResponse, error) {
	c, err := domain.ParseComposition(req.GetMoisturePercent(), req.GetYeastPerG(), req.GetGlucosePercent(), req.GetFructosePercent())
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
