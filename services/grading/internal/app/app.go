// Package app holds the commands and queries of the laboratory, one file each: load, decide, save, tell.
package app

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/pg"
)

// App is the laboratory.
type App struct {
	DB       *pg.DB
	Clock    clock.Clock
	Zone     *time.Location
	Library  *domain.Library
	Bench    Bench
	Readings Readings
	Releases Releases
	Controls Controls
	Appeals  Appeals
	Outside  Outside
	Custody  Custody
	// Oversight holds the log of who looked at what.
	Oversight Oversight
	// Signer signs certificates; nil leaves them unsigned.
	Signer *domain.Signer
	// RereadsEnforced refuses to release a borderline reading that was not read twice more.
	RereadsEnforced bool
}

// Position is where a sample stands; it follows from its readings and certificates.
type Position struct {
	State       domain.SampleState
	Certificate *uuid.UUID
}

// BenchRow is a sample with where it stands.
type BenchRow struct {
	Sample domain.Sample
	Position
}

// SampleKey is the place of a sample in the bench list.
type SampleKey struct {
	DrawTime time.Time `json:"t"`
	Code     string    `json:"c"`
}

// Bench holds samples and where they stand.
type Bench interface {
	// Sample fails with *domain.NotFoundError.
	Sample(ctx context.Context, q pg.Querier, code string) (BenchRow, error)
	// Samples lists oldest first, after a key; state 0 is any.
	Samples(ctx context.Context, q pg.Querier, after SampleKey, state domain.SampleState, most int) ([]BenchRow, error)
	// Lock is Sample, and nobody else changes the sample before the transaction ends.
	Lock(ctx context.Context, tx pgx.Tx, code string) (BenchRow, error)
	SavePosition(ctx context.Context, tx pgx.Tx, code string, p Position) error
	SaveDuplicate(ctx context.Context, tx pgx.Tx, d *domain.Duplicate) error
	DuplicatesOf(ctx context.Context, q pg.Querier, code string) ([]string, error)
	Duplicates(ctx context.Context, q pg.Querier, before SampleKey, most int) ([]domain.Duplicate, error)
}

// Readings holds measurements, which are only ever added.
type Readings interface {
	// Standing are those nothing replaced, by sample, in the order of factors.
	Standing(ctx context.Context, q pg.Querier, codes ...string) (map[string][]domain.Reading, error)
	// Analysts are all who ever measured the sample.
	Analysts(ctx context.Context, q pg.Querier, code string) ([]string, error)
	SaveReading(ctx context.Context, tx pgx.Tx, r *domain.Reading) error
}

// IssuedKey is the place of a certificate in the list.
type IssuedKey struct {
	Year    int   `json:"y"`
	Counter int64 `json:"c"`
}

// Issued is a certificate with what replaced it.
type Issued struct {
	Certificate  domain.Certificate
	SupersededBy *uuid.UUID
	Key          IssuedKey
	// Documents are the parts as stored.
	Documents domain.Documents
}

// UsedKey is a public key and when it was first signed with.
type UsedKey struct {
	Key      domain.SigningKey
	FirstUse time.Time
}

// Releases holds certificates, which are only ever added.
type Releases interface {
	// Certificate fails with *domain.NotFoundError.
	Certificate(ctx context.Context, q pg.Querier, id uuid.UUID) (Issued, error)
	// Certificates lists newest first, before a key; the zero key is the start.
	Certificates(ctx context.Context, q pg.Querier, before IssuedKey, most int) ([]Issued, error)
	// NextNumber takes the next number of a year. Nobody else gets one before the transaction ends.
	NextNumber(ctx context.Context, tx pgx.Tx, year int) (int64, error)
	SaveCertificate(ctx context.Context, tx pgx.Tx, c *domain.Certificate, key IssuedKey) error
	SaveSignature(ctx context.Context, tx pgx.Tx, certificate uuid.UUID, s *domain.Signature, at time.Time) error
	// Signature is nil for a certificate that was never signed.
	Signature(ctx context.Context, q pg.Querier, certificate uuid.UUID) (*domain.Signature, error)
	// SigningKeys lists every key by first use.
	SigningKeys(ctx context.Context, q pg.Querier) ([]UsedKey, error)
}

// house is the version of the house standard a sample is judged by: the one in force on the day it was drawn.
func (a *App) house(s *domain.Sample) *domain.Standard { return a.Library.HouseOn(s.DrawDay(a.Zone)) }

// judgedBy is the version a certificate names; one whose data file is gone answers by the version of its day.
func (a *App) judgedBy(c *domain.Certificate) *domain.Standard {
	standard, err := a.Library.Version(c.Decision.Standard, c.Decision.StandardVersion)
	if err != nil {
		return a.Library.HouseOn(domain.Date(c.Time, a.Zone).Format(time.DateOnly))
	}
	return standard
}

// now is as fine as the database keeps it, so that an answer and a later look at the same record agree.
func (a *App) now() time.Time { return a.Clock.Now().UTC().Truncate(time.Microsecond) }
