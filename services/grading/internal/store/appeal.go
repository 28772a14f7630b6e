package store

import (
	"cmp"
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/grading/internal/app"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/pg"
)

const selectAppeal = `
SELECT a.id, a.certificate, a.sample, a.factor, a.stage, a.reason, a.opener, a.open_time,
       r.kind, r.raw_value, r.temperature_c, r.computed, r.reported, r.instrument, r.laboratory, r.analyst, r.read_time, r.explanation, r.portion,
       d.upheld, d.decider, d.decide_time, d.decide_date, d.explanation, d.new_certificate
FROM appeal a LEFT JOIN appeal_reading r ON r.appeal = a.id LEFT JOIN appeal_decision d ON d.appeal = a.id `

// appealSteps are the later steps of an appeal, each absent until it was taken.
type appealSteps struct {
	kind, raw, temperature, instrument, laboratory, analyst, explanation, portion *string
	computed, reported                                                            *domain.Value
	readTime                                                                      *time.Time
	upheld                                                                        *bool
	decider, decision                                                             *string
	decideTime, decideDate                                                        *time.Time
	newCertificate                                                                *uuid.UUID
}

func scanAppeal(row pgx.CollectableRow) (domain.Appeal, error) {
	var a domain.Appeal
	var s appealSteps
	var factor string
	err := row.Scan(&a.ID, &a.Certificate, &a.Sample, &factor, &a.Stage, &a.Reason, &a.Opener, &a.Time,
		&s.kind, &s.raw, &s.temperature, &s.computed, &s.reported, &s.instrument, &s.laboratory, &s.analyst, &s.readTime, &s.explanation, &s.portion,
		&s.upheld, &s.decider, &s.decideTime, &s.decideDate, &s.decision, &s.newCertificate)
	if err != nil {
		return a, err
	}
	if err := a.Factor.UnmarshalText([]byte(factor)); err != nil {
		return a, err
	}
	if s.kind != nil {
		if a.Reading, err = s.reading(&a); err != nil {
			return a, err
		}
	}
	if s.decider != nil {
		a.Decision = &domain.AppealDecision{
			Upheld: *s.upheld, Decider: *s.decider, Time: *s.decideTime, Date: *s.decideDate, Explanation: *s.decision, NewCertificate: s.newCertificate,
		}
	}
	return a, nil
}

func (s *appealSteps) reading(a *domain.Appeal) (*domain.AppealReading, error) {
	r := &domain.AppealReading{Laboratory: *s.laboratory, Reading: domain.Reading{
		Sample: a.Sample, Factor: a.Factor, RawValue: *s.raw, Temperature: *s.temperature, Computed: *s.computed, Reported: *s.reported,
		Instrument: *s.instrument, Analyst: *s.analyst, Time: *s.readTime, Explanation: *s.explanation, Portion: *s.portion,
	}}
	return r, r.Kind.UnmarshalText([]byte(*s.kind))
}

// Appeal reads one.
func (Store) Appeal(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.Appeal, error) {
	rows, err := q.Query(ctx, selectAppeal+`WHERE a.id = $1`, id)
	if err != nil {
		return domain.Appeal{}, wrap(err, "read appeal")
	}
	a, err := pgx.CollectExactlyOneRow(rows, scanAppeal)
	return a, orNotFound(err, "read appeal", &domain.NotFoundError{Resource: (&domain.Appeal{ID: id}).Name()})
}

// AppealsOf lists those of one factor of a sample.
func (Store) AppealsOf(ctx context.Context, q pg.Querier, sample string, f domain.Factor) ([]domain.Appeal, error) {
	rows, err := q.Query(ctx, selectAppeal+`WHERE a.sample = $1 AND a.factor = $2 ORDER BY a.open_time, a.id`, sample, f.String())
	if err != nil {
		return nil, wrap(err, "list appeals of a sample")
	}
	list, err := pgx.CollectRows(rows, scanAppeal)
	return list, wrap(err, "list appeals of a sample")
}

// Appeals lists newest first.
func (Store) Appeals(ctx context.Context, q pg.Querier, before app.AppealKey, most int) ([]domain.Appeal, error) {
	rows, err := q.Query(ctx, selectAppeal+`
WHERE $3 OR (a.open_time, a.id) < ($1, $2) ORDER BY a.open_time DESC, a.id DESC LIMIT $4`,
		before.Time, before.ID, before.Time.IsZero(), most)
	if err != nil {
		return nil, wrap(err, "list appeals")
	}
	list, err := pgx.CollectRows(rows, scanAppeal)
	return list, wrap(err, "list appeals")
}

// SaveAppeal adds an appeal.
func (Store) SaveAppeal(ctx context.Context, tx pgx.Tx, a *domain.Appeal) error {
	const insert = `
INSERT INTO appeal (id, certificate, sample, factor, stage, reason, opener, open_time) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`
	_, err := tx.Exec(ctx, insert, a.ID, a.Certificate, a.Sample, a.Factor.String(), string(a.Stage), a.Reason, a.Opener, a.Time)
	return wrap(err, "save appeal")
}

// SaveAppealReading adds the second look.
func (Store) SaveAppealReading(ctx context.Context, tx pgx.Tx, appeal uuid.UUID, r *domain.AppealReading) error {
	const insert = `
INSERT INTO appeal_reading (appeal, kind, raw_value, temperature_c, computed, reported, instrument, laboratory, analyst, read_time, explanation, portion)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)`
	_, err := tx.Exec(ctx, insert, appeal, r.Kind.String(), r.RawValue, r.Temperature, int64(r.Computed), int64(r.Reported),
		r.Instrument, r.Laboratory, r.Analyst, r.Time, r.Explanation, cmp.Or(r.Portion, domain.PortionA))
	return wrap(err, "save the reading of an appeal")
}

// SaveAppealDecision adds the decision.
func (Store) SaveAppealDecision(ctx context.Context, tx pgx.Tx, appeal uuid.UUID, d *domain.AppealDecision) error {
	const insert = `
INSERT INTO appeal_decision (appeal, upheld, decider, decide_time, decide_date, explanation, new_certificate)
VALUES ($1, $2, $3, $4, $5, $6, $7)`
	_, err := tx.Exec(ctx, insert, appeal, d.Upheld, d.Decider, d.Time, d.Date, d.Explanation, d.NewCertificate)
	return wrap(err, "save the decision of an appeal")
}
