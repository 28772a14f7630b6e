package app

import (
	"context"
	"fmt"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/grading/internal/message"
	"barrelhead.example/services/kit/page"
)

// GetSample is one sample with its standing readings.
func (a *App) GetSample(ctx context.Context, req *gradingv1.GetSampleRequest) (*gradingv1.Sample, error) {
	code, err := domain.SampleCode("name", req.GetName())
	if err != nil {
		return nil, err
	}
	row, err := a.Bench.Sample(ctx, a.DB.Pool(), code)
	if err != nil {
		return nil, err
	}
	samples, err := a.withReadings(ctx, []BenchRow{row})
	if err != nil {
		return nil, err
	}
	return samples[0], a.saw(ctx, "GetSample", samples[0].GetName())
}

// ListSamples is the bench list.
func (a *App) ListSamples(ctx context.Context, req *gradingv1.ListSamplesRequest) (*gradingv1.ListSamplesResponse, error) {
	size, err := page.Size(req.GetPageSize())
	if err != nil {
		return nil, fmt.Errorf("list samples: %w", err)
	}
	var after SampleKey
	if err := page.Decode(req.GetPageToken(), req, &after); err != nil {
		return nil, fmt.Errorf("list samples: %w", err)
	}
	rows, err := a.Bench.Samples(ctx, a.DB.Pool(), after, domain.SampleState(req.GetState()), size+1)
	if err != nil {
		return nil, err
	}
	answer := &gradingv1.ListSamplesResponse{}
	rows, answer.NextPageToken = page.Cut(rows, size, req, func(r BenchRow) any { return SampleKey{DrawTime: r.Sample.DrawTime, Code: r.Sample.Code} })
	if answer.Samples, err = a.withReadings(ctx, rows); err != nil {
		return nil, err
	}
	return answer, a.saw(ctx, "ListSamples", namesOf(answer.GetSamples())...)
}

// withReadings reads the readings of a whole page at once.
func (a *App) withReadings(ctx context.Context, rows []BenchRow) ([]*gradingv1.Sample, error) {
	codes := make([]string, 0, len(rows))
	for i := range rows {
		codes = append(codes, rows[i].Sample.Code)
	}
	standing, err := a.Readings.Standing(ctx, a.DB.Pool(), codes...)
	if err != nil {
		return nil, err
	}
	gaps, err := a.Custody.Gaps(ctx, a.DB.Pool(), codes...)
	if err != nil {
		return nil, err
	}
	samples := make([]*gradingv1.Sample, 0, len(rows))
	for i := range rows {
		certificate := ""
		if id := rows[i].Certificate; id != nil {
			certificate = domain.CertificateName(*id)
		}
		one := message.Sample(rows[i].Sample, rows[i].State, standing[rows[i].Sample.Code], certificate, a.house(&rows[i].Sample))
		one.CustodyGaps = message.CustodyGaps(gaps[rows[i].Sample.Code])
		samples = append(samples, one)
	}
	return samples, nil
}
