package app

import (
	"context"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/grading/internal/message"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
)

// DecideAppeal ends an appeal in the caller's name; an upheld one supersedes the certificate in the same transaction.
func (a *App) DecideAppeal(ctx context.Context, req *gradingv1.DecideAppealRequest) (*gradingv1.Appeal, error) {
	id, err := domain.AppealID(req.GetAppeal())
	if err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*gradingv1.Appeal, []feed.Fact, error) {
		return a.decideAppeal(ctx, tx, id)
	})
}

func (a *App) decideAppeal(ctx context.Context, tx pgx.Tx, id uuid.UUID) (*gradingv1.Appeal, []feed.Fact, error) {
	appeal, issued, err := a.loadDecision(ctx, tx, id)
	if err != nil {
		return nil, nil, err
	}
	original := findFactor(issued.Certificate.Readings, appeal.Factor)
	d, err := domain.House().Decide(&appeal, original, access.From(ctx).Login)
	if err != nil {
		return nil, nil, err
	}
	d.Time = a.now()
	d.Date = domain.Date(d.Time, a.Zone)
	var facts []feed.Fact
	if d.Upheld {
		c, made, err := a.replaceByAppeal(ctx, tx, &appeal, &issued.Certificate, d.Decider)
		if err != nil {
			return nil, nil, err
		}
		d.NewCertificate, facts = &c.ID, made
	}
	appeal.Decision = &d
	if err := a.Appeals.SaveAppealDecision(ctx, tx, id, &d); err != nil {
		return nil, nil, err
	}
	answer := message.Appeal(&appeal)
	return answer, append(facts, feed.Fact{
		Aggregate: appeal.Name(), Payload: &gradingv1.AppealDecided{Appeal: answer}, OccurTime: d.Time,
	}), nil
}

// loadDecision takes the locks in their order, benches before samples, and reads what the decision is made by.
func (a *App) loadDecision(ctx context.Context, tx pgx.Tx, id uuid.UUID) (domain.Appeal, Issued, error) {
	appeal, err := a.Appeals.Appeal(ctx, tx, id)
	if err != nil {
		return domain.Appeal{}, Issued{}, err
	}
	issued, err := a.Releases.Certificate(ctx, tx, appeal.Certificate)
	if err != nil {
		return domain.Appeal{}, Issued{}, err
	}
	row, err := a.Bench.Sample(ctx, tx, appeal.Sample)
	if err != nil {
		return domain.Appeal{}, Issued{}, err
	}
	house := a.house(&row.Sample)
	if err := a.Controls.LockFactors(ctx, tx, house.Required(issued.Certificate.Style)...); err != nil {
		return domain.Appeal{}, Issued{}, err
	}
	if appeal, err = a.lockAppeal(ctx, tx, id); err != nil {
		return domain.Appeal{}, Issued{}, err
	}
	issued, err = a.Releases.Certificate(ctx, tx, appeal.Certificate)
	return appeal, issued, err
}

// replaceByAppeal puts the new reading in the place of the original and releases the grade anew.
func (a *App) replaceByAppeal(ctx context.Context, tx pgx.Tx, appeal *domain.Appeal, old *domain.Certificate, decider string) (domain.Certificate, []feed.Fact, error) {
	standing, err := a.Readings.Standing(ctx, tx, appeal.Sample)
	if err != nil {
		return domain.Certificate{}, nil, err
	}
	reading := appeal.Accepted(findFactor(standing[appeal.Sample], appeal.Factor))
	reading.ID = uuid.New()
	if err := a.Readings.SaveReading(ctx, tx, &reading); err != nil {
		return domain.Certificate{}, nil, err
	}
	release, err := a.loadRelease(ctx, tx, appeal.Sample)
	if err != nil {
		return domain.Certificate{}, nil, err
	}
	release.Style, release.Releaser = old.Style, decider
	// What was measured twice by different people needs no further look.
	release.Differences, release.RereadsEnforced = nil, false
	release.Reason = "appeal upheld by " + strings.ToLower(string(appeal.Stage)) + ": " + appeal.Reason
	// The referee's report was typed in, not measured, by whoever recorded it.
	if appeal.Stage == domain.Referee {
		release.Analysts = analystsOf(old)
	}
	house := a.house(&release.Sample)
	c, err := release.Decide(house)
	if err != nil {
		return domain.Certificate{}, nil, err
	}
	if err := a.saveCertificate(ctx, tx, &c, house); err != nil {
		return domain.Certificate{}, nil, err
	}
	return c, []feed.Fact{
		{Aggregate: domain.SampleName(appeal.Sample), Payload: &gradingv1.ReadingRecorded{Reading: message.Reading(&reading, house)}, OccurTime: reading.Time},
		{Aggregate: c.Name(), Payload: &gradingv1.CertificateIssued{Certificate: message.Certificate(&c, nil, house)}, OccurTime: c.Time},
	}, nil
}

func analystsOf(c *domain.Certificate) []string {
	var analysts []string
	for i := range c.Readings {
		analysts = append(analysts, c.Readings[i].Analyst)
	}
	return analysts
}
