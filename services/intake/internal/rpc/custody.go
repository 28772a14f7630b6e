package rpc

import (
	"context"
	"regexp"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/intake/internal/message"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/pg"
)

var sampleName = regexp.MustCompile(`^samples/([0-9A-Z]{4,20})$`)

func (f *fields) sample(field, name string) string {
	return f.name(field, sampleName, name, "samples/2C4D6F8HJ")
}

// RecordCustody records what happened to a portion of a sample.
func (s *Server) RecordCustody(ctx context.Context, req *intakev1.RecordCustodyRequest) (*intakev1.SampleCustody, error) {
	var f fields
	code := f.sample("sample", req.GetSample())
	e := domain.CustodyEvent{
		Kind: message.CustodyKind(req.GetKind()), Place: req.GetPlace(), Seal: req.GetSeal(), Expires: req.GetExpireDate(),
		Note: req.GetNote(), Time: instant(req.GetEventTime()),
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	return once(ctx, s, req, func(ctx context.Context, tx pg.Querier) ([]domain.Portion, []feed.Fact, error) {
		return s.app.RecordCustody(ctx, tx, code, message.PortionLetter(req.GetPortion()), e)
	}, s.write.SampleCustody)
}

// GetSampleCustody returns where the portions of a sample are and were.
func (s *Server) GetSampleCustody(ctx context.Context, req *intakev1.GetSampleCustodyRequest) (*intakev1.SampleCustody, error) {
	var f fields
	code := f.sample("sample", req.GetSample())
	if err := f.err(); err != nil {
		return nil, err
	}
	all, err := s.app.Custody(ctx, s.db.Pool(), code)
	if err != nil {
		return nil, err
	}
	return s.write.SampleCustody(all), nil
}

// ListPortionsDue lists the portions whose time is over.
func (s *Server) ListPortionsDue(ctx context.Context, req *intakev1.ListPortionsDueRequest) (*intakev1.ListPortionsDueResponse, error) {
	filter := domain.DueFilter{}
	size, err := page.Size(req.GetPageSize())
	if err != nil {
		return nil, err
	}
	if err := page.Decode(req.GetPageToken(), req, &filter); err != nil {
		return nil, err
	}
	filter.Date, filter.Limit = req.GetDueDate(), size
	found, more, err := s.app.PortionsDue(ctx, s.db.Pool(), filter)
	if err != nil {
		return nil, err
	}
	answer := &intakev1.ListPortionsDueResponse{}
	for _, d := range found {
		answer.Portions = append(answer.Portions, message.PortionDue(d))
	}
	if more {
		last := found[len(found)-1]
		answer.NextPageToken = page.Encode(domain.DueFilter{AfterDate: last.Expires, Sample: last.Sample, Letter: last.Letter}, req)
	}
	return answer, nil
}
