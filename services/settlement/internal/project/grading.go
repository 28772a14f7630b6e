package project

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// Grading applies one fact of the laboratory: a certificate and which one it replaces, results in doubt, a decided appeal.
func (p *Project) Grading(ctx context.Context, tx pgx.Tx, ev feed.Event) ([]feed.Fact, error) {
	switch fact := ev.Payload.(type) {
	case *gradingv1.CertificateIssued:
		return p.certificateIssued(ctx, tx, fact)
	case *gradingv1.ResultsReturnedToPending:
		return nil, p.resultsDoubted(ctx, tx, fact)
	case *gradingv1.ResultsConfirmed:
		samples, err := p.Tables.TrustResults(ctx, tx, fact.GetResults().GetControlRun())
		if err != nil {
			return nil, err
		}
		return p.settleSamples(ctx, tx, samples...)
	case *gradingv1.CertificateUnfit:
		return nil, p.certificateUnfit(ctx, tx, fact)
	case *gradingv1.AppealDecided:
		return p.appealDecided(ctx, tx, fact.GetAppeal())
	default:
		return nil, nil
	}
}

func (p *Project) certificateIssued(ctx context.Context, tx pgx.Tx, fact *gradingv1.CertificateIssued) ([]feed.Fact, error) {
	g, err := graded(fact.GetCertificate())
	if err != nil {
		return nil, fmt.Errorf("certificate %s: %w", fact.GetCertificate().GetNumber(), err)
	}
	if err := p.Tables.KeepCertificate(ctx, tx, g); err != nil {
		return nil, err
	}
	return p.settleSamples(ctx, tx, g.Sample)
}

func (p *Project) settleSamples(ctx context.Context, tx pgx.Tx, samples ...string) ([]feed.Fact, error) {
	if feed.Rebuilding(ctx) {
		return nil, nil
	}
	var facts []feed.Fact
	for _, s := range samples {
		more, err := p.Settler.SettleSample(ctx, tx, s)
		if err != nil {
			return nil, err
		}
		facts = append(facts, more...)
	}
	return facts, nil
}

// resultsDoubted pays nobody and takes nothing back: what was paid stays until the results are decided about.
func (p *Project) resultsDoubted(ctx context.Context, tx pgx.Tx, fact *gradingv1.ResultsReturnedToPending) error {
	ids := make([]uuid.UUID, 0, len(fact.GetResults().GetCertificates()))
	for _, c := range fact.GetResults().GetCertificates() {
		id, err := identity(c, "certificates")
		if err != nil {
			return err
		}
		ids = append(ids, id)
	}
	if err := p.turn(ctx, tx); err != nil {
		return err
	}
	return p.Tables.DoubtResults(ctx, tx, fact.GetResults().GetControlRun(), ids, "its result is checked again: "+fact.GetExplanation())
}

// certificateUnfit pays nobody and takes nothing back, like any doubt. The certificate that supersedes it is in no doubt.
func (p *Project) certificateUnfit(ctx context.Context, tx pgx.Tx, fact *gradingv1.CertificateUnfit) error {
	id, err := identity(fact.GetCertificate(), "certificates")
	if err != nil {
		return err
	}
	if err := p.turn(ctx, tx); err != nil {
		return err
	}
	by := "custody/" + fact.GetSample() + "/" + fact.GetGap().GetPortion().String()
	return p.Tables.DoubtResults(ctx, tx, by, []uuid.UUID{id}, "its result cannot count: "+fact.GetExplanation())
}

func (p *Project) appealDecided(ctx context.Context, tx pgx.Tx, a *gradingv1.Appeal) ([]feed.Fact, error) {
	if a.GetFee() != gradingv1.AppealFee_APPEAL_FEE_DUE {
		return nil, nil
	}
	f := domain.RefereeFee{Sample: a.GetSample(), Words: a.GetExplanation()}
	var err error
	if f.Appeal, err = identity(a.GetName(), "appeals"); err != nil {
		return nil, err
	}
	if f.Certificate, err = identity(a.GetCertificate(), "certificates"); err != nil {
		return nil, err
	}
	if err := p.Tables.KeepFee(ctx, tx, f); err != nil {
		return nil, err
	}
	return p.settleSamples(ctx, tx, f.Sample)
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
