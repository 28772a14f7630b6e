package rpc

import (
	"context"
	"fmt"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/intake/internal/message"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// CreateScale enters a scale.
func (s *Server) CreateScale(ctx context.Context, req *intakev1.CreateScaleRequest) (*intakev1.Scale, error) {
	var f fields
	in := req.GetScale()
	scale := domain.Scale{
		ID: req.GetScaleId(), Description: in.GetDescription(), Class: message.Class(in.GetAccuracyClass()), Seal: in.GetSeal(),
		Division: f.mass("scale.division", in.GetDivision(), s.app.Unit), Capacity: f.mass("scale.capacity", in.GetCapacity(), s.app.Unit),
		CertificateExpireDate: in.GetCertificateExpireDate(),
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	return once(ctx, s, req, func(ctx context.Context, tx pg.Querier) (domain.Scale, []feed.Fact, error) {
		return s.app.CreateScale(ctx, tx, scale)
	}, s.write.Scale)
}

// ListScales lists all scales.
func (s *Server) ListScales(ctx context.Context, _ *intakev1.ListScalesRequest) (*intakev1.ListScalesResponse, error) {
	found, err := s.app.Scales(ctx, s.db.Pool())
	if err != nil {
		return nil, err
	}
	answer := &intakev1.ListScalesResponse{}
	for _, scale := range found {
		out := s.write.Scale(scale)
		out.Warnings = scale.Warnings(s.app.Today())
		answer.Scales = append(answer.Scales, out)
	}
	return answer, nil
}

// RecordScaleCheck records and judges a trial.
func (s *Server) RecordScaleCheck(ctx context.Context, req *intakev1.RecordScaleCheckRequest) (*intakev1.ScaleCheck, error) {
	var f fields
	check := domain.Check{
		Scale: f.scale(req.GetScale()), Zero: f.mass("zero_indication", req.GetZeroIndication(), s.app.Unit),
		Column: message.Column(req.GetToleranceKind()), Seal: req.GetSeal(),
	}
	for i, l := range req.GetLoads() {
		field := fmt.Sprintf("loads[%d].", i)
		check.Loads = append(check.Loads, domain.Load{
			WeightID: l.GetWeightId(), Position: l.GetPosition(), Known: f.mass(field+"known", l.GetKnown(), s.app.Unit),
			Indication: f.mass(field+"indication", l.GetIndication(), s.app.Unit),
		})
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	return once(ctx, s, req, func(ctx context.Context, tx pg.Querier) (*domain.Check, []feed.Fact, error) {
		// A copy of the loads for each attempt: judging fills them in.
		attempt := check
		attempt.Loads = append([]domain.Load(nil), check.Loads...)
		done, facts, err := s.app.RecordScaleCheck(ctx, tx, attempt)
		return &done, facts, err
	}, s.write.Check)
}
