package app

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/grading/internal/message"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/pg"
)

// AppealKey is the place of an appeal in the list.
type AppealKey struct {
	Time time.Time `json:"t"`
	ID   uuid.UUID `json:"i"`
}

// Appeals holds appeals; each step is only ever added.
type Appeals interface {
	// Appeal fails with *domain.NotFoundError.
	Appeal(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.Appeal, error)
	AppealsOf(ctx context.Context, q pg.Querier, sample string, f domain.Factor) ([]domain.Appeal, error)
	// Appeals lists newest first, before a key; the zero key is the start.
	Appeals(ctx context.Context, q pg.Querier, before AppealKey, most int) ([]domain.Appeal, error)
	SaveAppeal(ctx context.Context, tx pgx.Tx, a *domain.Appeal) error
	SaveAppealReading(ctx context.Context, tx pgx.Tx, appeal uuid.UUID, r *domain.AppealReading) error
	SaveAppealDecision(ctx context.Context, tx pgx.Tx, appeal uuid.UUID, d *domain.AppealDecision) error
}

// OpenAppeal asks for a second look at one factor.
func (a *App) OpenAppeal(ctx context.Context, req *gradingv1.OpenAppealRequest) (*gradingv1.Appeal, error) {
	id, err := domain.CertificateID(req.GetCertificate())
	if err != nil {
		return nil, err
	}
	stage := domain.Stage(strings.TrimPrefix(req.GetStage().String(), "APPEAL_STAGE_"))
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*gradingv1.Appeal, []feed.Fact, error) {
		issued, err := a.lockCertificate(ctx, tx, id)
		if err != nil {
			return nil, nil, err
		}
		appeal := domain.Appeal{
			ID: uuid.New(), Certificate: id, Sample: issued.Certificate.Sample, Factor: domain.Factor(req.GetFactor()), Stage: stage,
			Reason: req.GetReason(), Opener: access.From(ctx).Login, Time: a.now(),
		}
		earlier, err := a.Appeals.AppealsOf(ctx, tx, appeal.Sample, appeal.Factor)
		if err != nil {
			return nil, nil, err
		}
		today := domain.Date(appeal.Time, a.Zone)
		if err := domain.House().Open(&appeal, &issued.Certificate, issued.SupersededBy != nil, earlier, today); err != nil {
			return nil, nil, err
		}
		answer := message.Appeal(&appeal)
		return answer, []feed.Fact{{
			Aggregate: appeal.Name(), Payload: &gradingv1.AppealOpened{Appeal: answer}, OccurTime: appeal.Time,
		}}, a.Appeals.SaveAppeal(ctx, tx, &appeal)
	})
}

// lockCertificate reads a certificate whose sample nobody else changes meanwhile.
func (a *App) lockCertificate(ctx context.Context, tx pgx.Tx, id uuid.UUID) (Issued, error) {
	issued, err := a.Releases.Certificate(ctx, tx, id)
	if err != nil {
		return Issued{}, err
	}
	if _, err := a.Bench.Lock(ctx, tx, issued.Certificate.Sample); err != nil {
		return Issued{}, err
	}
	return a.Releases.Certificate(ctx, tx, id)
}

// RecordAppealReading records the second look.
func (a *App) RecordAppealReading(ctx context.Context, req *gradingv1.RecordAppealReadingRequest) (*gradingv1.Appeal, error) {
	id, err := domain.AppealID(req.GetAppeal())
	if err != nil {
		return nil, err
	}
	in := domain.AppealReading{Laboratory: req.GetLaboratory(), Reading: domain.Reading{
		Kind: domain.Kind(req.GetKind()), RawValue: req.GetRawValue(), Temperature: req.GetTemperatureC(),
		Instrument: req.GetInstrument(), Analyst: access.From(ctx).Login,
	}}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*gradingv1.Appeal, []feed.Fact, error) {
		// Locks have an order, benches before samples. A referee does not measure on our bench.
		if req.GetLaboratory() == "" {
			if err := a.Controls.LockFactors(ctx, tx, in.Kind.Factor()); err != nil {
				return nil, nil, err
			}
		}
		appeal, err := a.lockAppeal(ctx, tx, id)
		if err != nil {
			return nil, nil, err
		}
		analysts, err := a.Readings.Analysts(ctx, tx, appeal.Sample)
		if err != nil {
			return nil, nil, err
		}
		in.Time, in.Sample = a.now(), appeal.Sample
		if in.Portion, err = a.portionOf(ctx, tx, &appeal, PortionFrom(req.GetPortion()), in.Time); err != nil {
			return nil, nil, err
		}
		r, err := appeal.Measure(in, analysts)
		if err != nil {
			return nil, nil, err
		}
		appeal.Reading = &r
		return message.Appeal(&appeal), nil, a.Appeals.SaveAppealReading(ctx, tx, id, &r)
	})
}

// portionOf is the portion a second look is read on, one whose chain of custody holds.
func (a *App) portionOf(ctx context.Context, tx pgx.Tx, appeal *domain.Appeal, said string, now time.Time) (string, error) {
	portion, err := appeal.PortionOf(said)
	if err != nil {
		return "", err
	}
	gaps, err := a.gapsOf(ctx, tx, appeal.Sample)
	if err != nil {
		return "", err
	}
	return portion, domain.MayReadPortion(appeal.Sample, portion, gaps, now)
}

// lockAppeal reads an appeal whose sample nobody else changes meanwhile.
func (a *App) lockAppeal(ctx context.Context, tx pgx.Tx, id uuid.UUID) (domain.Appeal, error) {
	appeal, err := a.Appeals.Appeal(ctx, tx, id)
	if err != nil {
		return domain.Appeal{}, err
	}
	if _, err := a.Bench.Lock(ctx, tx, appeal.Sample); err != nil {
		return domain.Appeal{}, err
	}
	return a.Appeals.Appeal(ctx, tx, id)
}

// GetAppeal is one appeal.
func (a *App) GetAppeal(ctx context.Context, req *gradingv1.GetAppealRequest) (*gradingv1.Appeal, error) {
	id, err := domain.AppealID(req.GetName())
	if err != nil {
		return nil, err
	}
	appeal, err := a.Appeals.Appeal(ctx, a.DB.Pool(), id)
	if err != nil {
		return nil, err
	}
	return message.Appeal(&appeal), nil
}

// ListAppeals lists newest first.
func (a *App) ListAppeals(ctx context.Context, req *gradingv1.ListAppealsRequest) (*gradingv1.ListAppealsResponse, error) {
	size, err := page.Size(req.GetPageSize())
	if err != nil {
		return nil, fmt.Errorf("list appeals: %w", err)
	}
	var before AppealKey
	if err := page.Decode(req.GetPageToken(), req, &before); err != nil {
		return nil, fmt.Errorf("list appeals: %w", err)
	}
	list, err := a.Appeals.Appeals(ctx, a.DB.Pool(), before, size+1)
	if err != nil {
		return nil, err
	}
	answer := &gradingv1.ListAppealsResponse{}
	list, answer.NextPageToken = page.Cut(list, size, req, func(one domain.Appeal) any { return AppealKey{Time: one.Time, ID: one.ID} })
	for i := range list {
		answer.Appeals = append(answer.Appeals, message.Appeal(&list[i]))
	}
	return answer, nil
}
