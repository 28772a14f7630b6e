package project

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/quantity"
)

// Grading applies one event of grading's feed.
func (p Project) Grading(ctx context.Context, tx pgx.Tx, ev feed.Event) ([]feed.Fact, error) {
	switch e := ev.Payload.(type) {
	case *gradingv1.CertificateIssued:
		c, err := certificate(e.GetCertificate())
		if err != nil {
			return nil, fmt.Errorf("certificate %s: %w", e.GetCertificate().GetNumber(), err)
		}
		return nil, p.Store.PutCertificate(ctx, tx, c)
	case *gradingv1.ResidueSuspected:
		return p.suspected(ctx, tx, e)
	case *gradingv1.SampleCleared:
		return p.cleared(ctx, tx, ev, e)
	default:
		return nil, nil
	}
}

// pfundDigits keeps a hundredth of a millimetre, one digit more than a colour is reported to.
const pfundDigits = 2

// hmfDigits is how HMF is reported, to a tenth of mg/kg.
const hmfDigits = 1

func certificate(c *gradingv1.Certificate) (stock.Certificate, error) {
	d := c.GetDecision()
	out := stock.Certificate{
		Sample: c.GetSample(), Issued: c.GetIssueTime().AsTime(),
		Grading: stock.Grading{Certificate: c.GetName(), Grade: d.GetGrade(), ColorClass: d.GetColorClass()},
	}
	if v := d.GetMoisturePercent(); v != "" {
		water, err := quantity.ParsePercent(v)
		if err != nil {
			return out, fmt.Errorf("moisture: %w", err)
		}
		out.Grading.Moisture = &water
	}
	if v := d.GetPfundMm(); v != "" {
		mm, err := quantity.ParseFixed(v, pfundDigits)
		if err != nil {
			return out, fmt.Errorf("colour: %w", err)
		}
		out.Grading.Pfund = &mm
	}
	for _, r := range c.GetReadings() {
		if r.GetFactor() != gradingv1.Factor_FACTOR_HMF || r.GetReadTime().AsTime().Before(out.Grading.HMFRead) {
			continue
		}
		hmf, err := quantity.ParseFixed(r.GetReportedValue(), hmfDigits)
		if err != nil {
			return out, fmt.Errorf("HMF: %w", err)
		}
		out.Grading.HMF, out.Grading.HMFRead = &hmf, r.GetReadTime().AsTime()
	}
	return out, nil
}
