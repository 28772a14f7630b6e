package app

import (
	"context"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/grading/internal/message"
)

// Evaluate judges without changing anything, by the code that certifies.
func (a *App) Evaluate(_ context.Context, req *gradingv1.EvaluateRequest) (*gradingv1.Decision, error) {
	standard, err := a.Library.Find(req.GetStandard())
	if err != nil {
		return nil, err
	}
	q, err := domain.Ask(StyleFrom(req.GetStyle()), map[domain.Factor]string{
		domain.Moisture: req.GetMoisturePercent(), domain.Color: req.GetPfundMm(), domain.Flavor: req.GetFlavor(),
		domain.Defects: req.GetDefects(), domain.Clarity: req.GetClarity(),
	})
	if err != nil {
		return nil, err
	}
	d, err := standard.Judge(&q)
	if err != nil {
		return nil, err
	}
	return message.Decision(&d), nil
}

// ListStandards lists every standard with every figure.
func (a *App) ListStandards(context.Context, *gradingv1.ListStandardsRequest) (*gradingv1.ListStandardsResponse, error) {
	answer := &gradingv1.ListStandardsResponse{}
	for _, s := range a.Library.All() {
		answer.Standards = append(answer.Standards, message.Standard(s))
	}
	return answer, nil
}
