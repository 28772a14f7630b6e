package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

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
	c, docs := &i.Certificate, &i.Documents
	err := row.Scan(&c.ID, &i.Key.Year, &i.Key.Counter, &c.Number, &c.Sample, &c.Variety, &c.CropYear, &style, &docs.Decision,
		&docs.Readings, &c.Releaser, &c.Time, &c.Supersedes, &c.Reason, &c.AppealUntil, &i.SupersededBy)
	if err != nil {
		return i, err
	}
	if err := c.Style.UnmarshalText([]byte(style)); err != nil {
		return i, fmt.Errorf("certificate %s: %w", c.ID, err)
	}
	if err := json.Unmarshal(docs.Decision, &c.Decision); err != nil {
		return i, fmt.Errorf("decision of certificate %s: %w", c.ID, err)
	}
	if err := json.Unmarshal(docs.Readings, &c.Readings); err != nil {
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
	docs, err := c.Documents()
	if err != nil {
		return wrap(err, "save certificate")
	}
	const insert = `
INSERT INTO certificate (id, year, counter, number, sample, variety, crop_year, style, standard, standard_version, grade,
                         decision, readings, releaser, issue_time, supersedes, reason, appeal_until)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18)`
	_, err = tx.Exec(ctx, insert, c.ID, key.Year, key.Counter, c.Number, c.Sample, c.Variety, c.CropYear, c.Style.String(),
		c.Decision.Standard, c.Decision.StandardVersion, c.Decision.Grade, docs.Decision, docs.Readings, c.Releaser, c.Time, c.Supersedes, c.Reason, c.AppealUntil)
	return wrap(err, "save certificate")
}

// SaveSignature adds the signature of a certificate, and its key on first use.
func (Store) SaveSignature(ctx context.Context, tx pgx.Tx, certificate uuid.UUID, s *domain.Signature, at time.Time) error {
	b := &pgx.Batch{}
	b.Queue(`INSERT INTO signing_key (id, public_key, first_use) VALUES ($1, $2, $3) ON CONFLICT (id) DO NOTHING`, s.Key.ID, []byte(s.Key.Public), at)
	b.Queue(`INSERT INTO certificate_signature (certificate, key, payload, signature) VALUES ($1, $2, $3, $4)`,
		certificate, s.Key.ID, s.Payload, s.Signature)
	return wrap(tx.SendBatch(ctx, b).Close(), "save signature")
}

// Signature reads the signature of a certificate; nil when it was never signed.
func (Store) Signature(ctx context.Context, q pg.Querier, certificate uuid.UUID) (*domain.Signature, error) {
	const read = `
SELECT k.id, k.public_key, s.payload, s.signature FROM certificate_signature s JOIN signing_key k ON k.id = s.key WHERE s.certificate = $1`
	var s domain.Signature
	var public []byte
	err := q.QueryRow(ctx, read, certificate).Scan(&s.Key.ID, &public, &s.Payload, &s.Signature)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, nil
	}
	s.Key.Public = public
	return &s, wrap(err, "read signature")
}

// SigningKeys lists every key by first use.
func (Store) SigningKeys(ctx context.Context, q pg.Querier) ([]app.UsedKey, error) {
	rows, err := q.Query(ctx, `SELECT id, public_key, first_use FROM signing_key ORDER BY first_use, id`)
	if err != nil {
		return nil, wrap(err, "list signing keys")
	}
	keys, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (k app.UsedKey, err error) {
		var public []byte
		err = row.Scan(&k.Key.ID, &public, &k.FirstUse)
		k.Key.Public = public
		return k, err
	})
	return keys, wrap(err, "list signing keys")
}
