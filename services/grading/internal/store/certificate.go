package store

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/grading/internal/app"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/pg"
)

const selectCertificate = `
SELECT c.id, c.year, c.counter, c.number, c.sample, c.variety, c.crop_year, c.style, c.decision, c.readings, c.releaser,
       c.issue_time, c.supersedes, c.reason, c.appeal_until, newer.id
FROM certificate c LEFT JOIN certificate newer ON newer.supersedes = c.id `

func scanCertificate(row pgx.CollectableRow) (app.Issued, error) {
	var i app.Issued
	var style string
	var decision, readings []byte
	c := &i.Certificate
	err := row.Scan(&c.ID, &i.Key.Year, &i.Key.Counter, &c.Number, &c.Sample, &c.Variety, &c.CropYear, &style, &decision,
		&readings, &c.Releaser, &c.Time, &c.Supersedes, &c.Reason, &c.AppealUntil, &i.SupersededBy)
	if err != nil {
		return i, err
	}
	if err := c.Style.UnmarshalText([]byte(style)); err != nil {
		return i, fmt.Errorf("certificate %s: %w", c.ID, err)
	}
	if err := json.Unmarshal(decision, &c.Decision); err != nil {
		return i, fmt.Errorf("decision of certificate %s: %w", c.ID, err)
	}
	if err := json.Unmarshal(readings, &c.Readings); err != nil {
		return i, fmt.Errorf("readings of certificate %s: %w", c.ID, err)
	}
	return i, nil
}

// Certificate reads one.
func (Store) Certificate(ctx context.Context, q pg.Querier, id uuid.UUID) (app.Issued, error) {
	rows, err := q.Query(ctx, selectCertificate+`WHERE c.id = $1`, id)
	if err != nil {
		return app.Issued{}, wrap(err, "read certificate")
	}
	issued, err := pgx.CollectExactlyOneRow(rows, scanCertificate)
	return issued, orNotFound(err, "read certificate", &domain.NotFoundError{Resource: domain.CertificateName(id)})
}

// Certificates lists newest first.
func (Store) Certificates(ctx context.Context, q pg.Querier, before app.IssuedKey, most int) ([]app.Issued, error) {
	rows, err := q.Query(ctx, selectCertificate+`
WHERE $1 = 0 OR (c.year, c.counter) < ($1, $2)
ORDER BY c.year DESC, c.counter DESC LIMIT $3`, before.Year, before.Counter, most)
	if err != nil {
		return nil, wrap(err, "list certificates")
	}
	list, err := pgx.CollectRows(rows, scanCertificate)
	return list, wrap(err, "list certificates")
}

// NextNumber raises the counter of a year. A transaction that fails gives its number back.
func (Store) NextNumber(ctx context.Context, tx pgx.Tx, year int) (int64, error) {
	const next = `
INSERT INTO certificate_counter (year, last) VALUES ($1, 1)
ON CONFLICT (year) DO UPDATE SET last = certificate_counter.last + 1 RETURNING last`
	var n int64
	err := tx.QueryRow(ctx, next, year).Scan(&n)
	return n, wrap(err, "take the next certificate number")
}

// SaveCertificate adds a certificate.
func (Store) SaveCertificate(ctx context.Context, tx pgx.Tx, c *domain.Certificate, key app.IssuedKey) error {
	decision, err := json.Marshal(c.Decision)
	if err != nil {
		return wrap(err, "write the decision down")
	}
	readings, err := json.Marshal(c.Readings)
	if err != nil {
		return wrap(err, "write the readings down")
	}
	const insert = `
INSERT INTO certificate (id, year, counter, number, sample, variety, crop_year, style, standard, standard_version, grade,
                         decision, readings, releaser, issue_time, supersedes, reason, appeal_until)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18)`
	_, err = tx.Exec(ctx, insert, c.ID, key.Year, key.Counter, c.Number, c.Sample, c.Variety, c.CropYear, c.Style.String(),
		c.Decision.Standard, c.Decision.StandardVersion, c.Decision.Grade, decision, readings, c.Releaser, c.Time, c.Supersedes, c.Reason, c.AppealUntil)
	return wrap(err, "save certificate")
}
