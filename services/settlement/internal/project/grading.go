package project

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// Grading applies one fact of the laboratory: a certificate, and which one it replaces.
func (p *Project) Grading(ctx context.Context, tx pgx.Tx, ev feed.Event) ([]feed.Fact, error) {
	fact, ok := ev.Payload.(*gradingv1.CertificateIssued)
	if !ok {
		return nil, nil
	}
	g, err := graded(fact.GetCertificate())
	if err != nil {
		return nil, fmt.Errorf("certificate %s: %w", fact.GetCertificate().GetNumber(), err)
	}
	if err := p.Tables.KeepCertificate(ctx, tx, g); err != nil || feed.Rebuilding(ctx) {
		return nil, err
	}
	return p.Settler.SettleSample(ctx, tx, g.Sample)
}

func graded(c *gradingv1.Certificate) (domain.Graded, error) {
	d := c.GetDecision()
	g := domain.Graded{Sample: c.GetSample(), IssueTime: c.GetIssueTime().AsTime(), Reason: c.GetReason()}
	g.Number, g.Grade, g.ColorClass = c.GetNumber(), d.GetGrade(), d.GetColorClass()
	var err error
	if g.ID, err = identity(c.GetName(), "certificates"); err != nil {
		return g, err
	}
	if c.GetSupersedes() != "" {
		old, err := identity(c.GetSupersedes(), "certificates")
		if err != nil {
			return g, err
		}
		g.Supersedes = &old
	}
	if d.GetMoisturePercent() != "" {
		if g.Water, err = quantity.ParsePercent(d.GetMoisturePercent()); err != nil {
			return g, fmt.Errorf("moisture: %w", err)
		}
	}
	g.Readings = make([]string, 0, len(c.GetReadings()))
	for _, r := range c.GetReadings() {
		g.Readings = append(g.Readings, inWords(r))
	}
	return g, nil
}

// inWords is a reading as the member reads it. It leaves out who measured.
func inWords(r *gradingv1.Reading) string {
	raw, on, result := r.GetRawValue(), "", r.GetReportedValue()
	if r.GetInstrument() != "" {
		on = " on " + r.GetInstrument()
	}
	switch r.GetKind() {
	case gradingv1.ReadingKind_READING_KIND_REFRACTIVE_INDEX:
		temperature := r.GetTemperatureC()
		if temperature == "" {
			temperature = "20.0"
		}
		return fmt.Sprintf("refractive index %s at %s °C%s: %s %%", raw, temperature, on, result)
	case gradingv1.ReadingKind_READING_KIND_MOISTURE_PERCENT:
		return fmt.Sprintf("moisture %s %%%s: %s %%", raw, on, result)
	case gradingv1.ReadingKind_READING_KIND_BRIX:
		return fmt.Sprintf("%s degrees Brix%s: %s %%", raw, on, result)
	case gradingv1.ReadingKind_READING_KIND_PFUND_MM:
		return fmt.Sprintf("colour %s mm%s: %s mm", raw, on, result)
	case gradingv1.ReadingKind_READING_KIND_ABSORBANCE_635:
		return fmt.Sprintf("absorbance %s at 635 nm%s: %s mm", raw, on, result)
	case gradingv1.ReadingKind_READING_KIND_FLAVOR:
		return fmt.Sprintf("flavour and aroma %s of 50 points", result)
	case gradingv1.ReadingKind_READING_KIND_DEFECTS:
		return fmt.Sprintf("absence of defects %s of 40 points", result)
	case gradingv1.ReadingKind_READING_KIND_CLARITY:
		return fmt.Sprintf("clarity %s of 10 points", result)
	default:
		return fmt.Sprintf("reading %s%s: %s", raw, on, result)
	}
}
