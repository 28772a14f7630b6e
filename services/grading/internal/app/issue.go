package app

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/grading/internal/message"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
)

// IssueCertificate releases the grade of a measured sample in the caller's name.
func (a *App) IssueCertificate(ctx context.Context, req *gradingv1.IssueCertificateRequest) (*gradingv1.Certificate, error) {
	code, err := domain.SampleCode("sample", req.GetSample())
	if err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*gradingv1.Certificate, []feed.Fact, error) {
		style := StyleFrom(req.GetStyle())
		row, err := a.Bench.Sample(ctx, tx, code)
		if err != nil {
			return nil, nil, err
		}
		house := a.house(&row.Sample)
		if err := a.Controls.LockFactors(ctx, tx, house.Required(style)...); err != nil {
			return nil, nil, err
		}
		release, err := a.loadRelease(ctx, tx, code)
		if err != nil {
			return nil, nil, err
		}
		release.Style, release.Reason = style, req.GetReason()
		release.Releaser = access.From(ctx).Login
		c, err := release.Decide(house)
		if err != nil {
			return nil, nil, err
		}
		if err := a.saveCertificate(ctx, tx, &c, house); err != nil {
			return nil, nil, err
		}
		answer := message.Certificate(&c, nil, house)
		return answer, []feed.Fact{{
			Aggregate: c.Name(), Payload: &gradingv1.CertificateIssued{Certificate: answer}, OccurTime: c.Time,
		}}, nil
	})
}

// loadRelease locks the sample and gathers what a release is decided by.
func (a *App) loadRelease(ctx context.Context, tx pgx.Tx, code string) (domain.Release, error) {
	row, err := a.Bench.Lock(ctx, tx, code)
	if err != nil {
		return domain.Release{}, err
	}
	release := domain.Release{Sample: row.Sample, RereadsEnforced: a.RereadsEnforced}
	standing, err := a.Readings.Standing(ctx, tx, code)
	if err != nil {
		return domain.Release{}, err
	}
	release.Standing = standing[code]
	inDoubt, err := a.inDoubt(ctx, tx, release.Standing)
	if err != nil {
		return domain.Release{}, err
	}
	release.Doubted = func(r domain.Reading) bool { return inDoubt[r.ID] }
	if release.Gaps, err = a.gapsOf(ctx, tx, code); err != nil {
		return domain.Release{}, err
	}
	if release.Analysts, err = a.Readings.Analysts(ctx, tx, code); err != nil {
		return domain.Release{}, err
	}
	if release.Differences, err = a.differences(ctx, tx, code, release.Standing); err != nil {
		return domain.Release{}, err
	}
	if row.Certificate != nil {
		previous, err := a.Releases.Certificate(ctx, tx, *row.Certificate)
		if err != nil {
			return domain.Release{}, err
		}
		release.Previous = &previous.Certificate
	}
	return release, nil
}

// saveCertificate numbers and stores it. The number comes last: its row is the one lock all releases share.
func (a *App) saveCertificate(ctx context.Context, tx pgx.Tx, c *domain.Certificate, house *domain.Standard) error {
	c.ID, c.Time = uuid.New(), a.now()
	c.AppealUntil = domain.House().AppealUntil(domain.Date(c.Time, a.Zone))
	key := IssuedKey{Year: c.Time.In(a.Zone).Year()}
	var err error
	if key.Counter, err = a.Releases.NextNumber(ctx, tx, key.Year); err != nil {
		return err
	}
	c.Number = domain.CertificateNumber(key.Year, key.Counter)
	if err := a.Releases.SaveCertificate(ctx, tx, c, key); err != nil {
		return err
	}
	if err := a.sign(ctx, tx, c); err != nil {
		return err
	}
	standing, err := a.Readings.Standing(ctx, tx, c.Sample)
	if err != nil {
		return err
	}
	// A reading the certificate does not rest on may still be in doubt.
	state, err := a.state(ctx, tx, house, standing[c.Sample], true)
	if err != nil {
		return err
	}
	return a.Bench.SavePosition(ctx, tx, c.Sample, Position{State: state, Certificate: &c.ID})
}

// sign stores the laboratory's signature with the certificate.
func (a *App) sign(ctx context.Context, tx pgx.Tx, c *domain.Certificate) error {
	if a.Signer == nil {
		return nil
	}
	docs, err := c.Documents()
	if err != nil {
		return err
	}
	text, err := c.Payload(docs)
	if err != nil {
		return err
	}
	signature := a.Signer.Sign(text)
	return a.Releases.SaveSignature(ctx, tx, c.ID, &signature, c.Time)
}

// StyleFrom is the style meant by the wire form; unsaid is strained.
func StyleFrom(s gradingv1.Style) domain.Style {
	if s == gradingv1.Style_STYLE_FILTERED {
		return domain.Filtered
	}
	return domain.Strained
}
