package rpc

import (
	"context"
	"fmt"

	"github.com/google/uuid"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// ReweighBarrel records that a barrel was weighed again.
func (s *Server) ReweighBarrel(ctx context.Context, req *intakev1.ReweighBarrelRequest) (*intakev1.Reweigh, error) {
	var f fields
	barrel := f.id("barrel", "barrels", req.GetBarrel())
	scale := f.scale(req.GetScale())
	capture := f.capture(req.GetIndication(), scale)
	r := domain.Reweigh{
		Gross: f.gross(req.GetGross(), s.app.Unit, capture), Scale: scale, Capture: capture, RawIndication: req.GetRawIndication(),
		Stable: req.GetStable(), Manual: req.GetManual(), Reason: req.GetReason(), SealIntact: req.GetSealIntact(),
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	return once(ctx, s, req, func(ctx context.Context, tx pg.Querier) (domain.Reweigh, []feed.Fact, error) {
		return s.app.ReweighBarrel(ctx, tx, barrel, r)
	}, s.write.Reweigh)
}

// ListReweighs lists the re-weighs of a barrel.
func (s *Server) ListReweighs(ctx context.Context, req *intakev1.ListReweighsRequest) (*intakev1.ListReweighsResponse, error) {
	var f fields
	barrel := f.id("barrel", "barrels", req.GetBarrel())
	if err := f.err(); err != nil {
		return nil, err
	}
	found, err := s.app.Reweighs(ctx, s.db.Pool(), barrel)
	if err != nil {
		return nil, err
	}
	answer := &intakev1.ListReweighsResponse{}
	for _, r := range found {
		answer.Reweighs = append(answer.Reweighs, s.write.Reweigh(r))
	}
	return answer, nil
}

// ResolveScaleReview decides about the barrels of a review.
func (s *Server) ResolveScaleReview(ctx context.Context, req *intakev1.ResolveScaleReviewRequest) (*intakev1.ScaleReview, error) {
	var f fields
	id := f.id("name", "scaleReviews", req.GetName())
	by := domain.Accepting{Notes: map[uuid.UUID]string{}, Rest: req.GetRestNote()}
	for i, a := range req.GetAccepted() {
		by.Notes[f.id(fmt.Sprintf("accepted[%d].barrel", i), "barrels", a.GetBarrel())] = a.GetNote()
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	return once(ctx, s, req, func(ctx context.Context, tx pg.Querier) (domain.ScaleReview, []feed.Fact, error) {
		return s.app.ResolveScaleReview(ctx, tx, id, by)
	}, s.write.ScaleReview)
}
