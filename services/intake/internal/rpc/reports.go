package rpc

import (
	"context"

	"google.golang.org/protobuf/proto"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/page"
)

// paged is a request for a page of a list by time.
type paged interface {
	proto.Message
	GetPageSize() int32
	GetPageToken() string
}

func byTime(req paged) (before domain.PageKey, size int, err error) {
	if size, err = page.Size(req.GetPageSize()); err != nil {
		return before, size, err
	}
	return before, size, page.Decode(req.GetPageToken(), req, &before)
}

// ListScaleReviews lists what failed checks put in doubt.
func (s *Server) ListScaleReviews(ctx context.Context, req *intakev1.ListScaleReviewsRequest) (*intakev1.ListScaleReviewsResponse, error) {
	before, size, err := byTime(req)
	if err != nil {
		return nil, err
	}
	found, more, err := s.app.ScaleReviews(ctx, s.db.Pool(), domain.ReviewFilter{Before: before, OpenOnly: req.GetOpenOnly(), Limit: size})
	if err != nil {
		return nil, err
	}
	answer := &intakev1.ListScaleReviewsResponse{}
	for _, r := range found {
		answer.ScaleReviews = append(answer.ScaleReviews, s.write.ScaleReview(r))
	}
	if more {
		last := found[len(found)-1]
		answer.NextPageToken = page.Encode(domain.PageKey{Time: last.OpenTime, ID: last.ID}, req)
	}
	return answer, nil
}

// ListTareVariances lists drums that weighed otherwise empty than their ticket said.
func (s *Server) ListTareVariances(ctx context.Context, req *intakev1.ListTareVariancesRequest) (*intakev1.ListTareVariancesResponse, error) {
	before, size, err := byTime(req)
	if err != nil {
		return nil, err
	}
	found, more, err := s.app.TareVariances(ctx, s.db.Pool(), before, size)
	if err != nil {
		return nil, err
	}
	answer := &intakev1.ListTareVariancesResponse{}
	for _, v := range found {
		answer.TareVariances = append(answer.TareVariances, s.write.TareVariance(v))
	}
	if more {
		last := found[len(found)-1]
		answer.NextPageToken = page.Encode(domain.PageKey{Time: last.FindTime, ID: last.Barrel}, req)
	}
	return answer, nil
}

// ReportTicketNumbers accounts for every ticket number of a year.
func (s *Server) ReportTicketNumbers(ctx context.Context, req *intakev1.ReportTicketNumbersRequest) (*intakev1.TicketNumberReport, error) {
	r, err := s.app.TicketNumbers(ctx, s.db.Pool(), int(req.GetYear()))
	if err != nil {
		return nil, err
	}
	return s.write.NumberReport(r), nil
}

// ReportWeighers counts what each person weighed.
func (s *Server) ReportWeighers(ctx context.Context, req *intakev1.ReportWeighersRequest) (*intakev1.WeigherReport, error) {
	lines, err := s.app.Weighers(ctx, s.db.Pool(), req.GetFromDate(), req.GetToDate())
	if err != nil {
		return nil, err
	}
	return s.write.Weighers(lines), nil
}
