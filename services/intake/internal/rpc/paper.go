package rpc

import (
	"context"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/pg"
)

// ConfirmPaperWeight records that a second person compared a weight with the paper book.
func (s *Server) ConfirmPaperWeight(ctx context.Context, req *intakev1.ConfirmPaperWeightRequest) (*intakev1.Barrel, error) {
	var f fields
	id := f.id("barrel", "barrels", req.GetBarrel())
	if err := f.err(); err != nil {
		return nil, err
	}
	return once(ctx, s, req, func(ctx context.Context, tx pg.Querier) (domain.Barrel, []feed.Fact, error) {
		return s.app.ConfirmPaperWeight(ctx, tx, id)
	}, s.write.Barrel)
}

// ListTypedWeights lists the weights typed by hand.
func (s *Server) ListTypedWeights(ctx context.Context, req *intakev1.ListTypedWeightsRequest) (*intakev1.ListTypedWeightsResponse, error) {
	after, size, err := byTime(req)
	if err != nil {
		return nil, err
	}
	found, more, err := s.app.TypedWeights(ctx, s.db.Pool(), req.GetFromDate(), req.GetToDate(), after, size)
	if err != nil {
		return nil, err
	}
	answer := &intakev1.ListTypedWeightsResponse{}
	for _, b := range found {
		answer.Barrels = append(answer.Barrels, s.write.Barrel(b))
	}
	if more {
		last := found[len(found)-1]
		answer.NextPageToken = page.Encode(domain.PageKey{Time: last.WeighTime, ID: last.ID}, req)
	}
	return answer, nil
}
