package store_test

import (
	"context"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"barrelhead.example/services/grading/internal/app"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/grading/internal/store"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
)

var noon = time.Date(2026, 9, 14, 17, 0, 0, 0, time.UTC)

func inTx(t *testing.T, db *pg.DB, fn func(ctx context.Context, tx pgx.Tx) error) error {
	t.Helper()
	return db.InTx(t.Context(), fn)
}

func save(t *testing.T, db *pg.DB, r domain.Reading) error {
	t.Helper()
	return inTx(t, db, func(ctx context.Context, tx pgx.Tx) error { return store.Store{}.SaveReading(ctx, tx, &r) })
}

func reading(t *testing.T, sample string, kind domain.Kind, raw string) domain.Reading {
	t.Helper()
	r, err := domain.NewReading(domain.Reading{
		ID: uuid.New(), Sample: sample, Kind: kind, RawValue: raw, Analyst: "users/tech1", Time: noon, Instrument: "RF-2",
	}, nil)
	require.NoError(t, err)
	return r
}

// What may be disputed is only ever added to: the role of the service has no right to change or remove it.
func TestDisputedRecordsCannotBeChanged(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "grading")
	for _, table := range []string{
		"reading", "certificate", "certificate_signature", "signing_key", "control", "control_run", "reading_doubted", "reading_confirmed",
		"duplicate", "appeal", "appeal_reading", "appeal_decision", "composite", "composite_member", "outside_result", "outside_second",
		"suspicion", "suspicion_end", "disposal", "control_retirement", "view_log",
	} {
		for _, statement := range []string{"DELETE FROM " + table, "UPDATE " + table + " SET " + lastColumn(t, db, table) + " = NULL", "TRUNCATE " + table} {
			_, err := db.Pool().Exec(t.Context(), statement)
			require.ErrorContains(t, err, "permission denied", statement)
		}
	}
}

func lastColumn(t *testing.T, db *pg.DB, table string) string {
	t.Helper()
	var column string
	err := db.Pool().QueryRow(t.Context(),
		`SELECT column_name FROM information_schema.columns WHERE table_schema = 'grading' AND table_name = $1 ORDER BY ordinal_position DESC LIMIT 1`, table).Scan(&column)
	require.NoError(t, err)
	return column
}

func TestReadingsComeBackAsSaved(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "grading")
	first := reading(t, "7KQ2XN4T", domain.RefractiveIndex, "1.4903")
	color := reading(t, "7KQ2XN4T", domain.PfundMM, "42")
	require.NoError(t, save(t, db, color))
	require.NoError(t, save(t, db, first))
	second := reading(t, "7KQ2XN4T", domain.MoisturePercent, "18.7")
	second.Replaces, second.Reason, second.Mean = &first.ID, "air bubble", true
	require.NoError(t, save(t, db, second))
	standing, err := store.Store{}.Standing(t.Context(), db.Pool(), "7KQ2XN4T", "DRH3C9WY")
	require.NoError(t, err)
	for i := range standing["7KQ2XN4T"] {
		standing["7KQ2XN4T"][i].Time = standing["7KQ2XN4T"][i].Time.UTC()
	}
	require.Equal(t, map[string][]domain.Reading{"7KQ2XN4T": {second, color}}, standing, "in the order of factors, what nothing replaced")
}

// The last line of defence, should two processes disagree about what stands.
func TestTheDatabaseKeepsReadingsInOneLine(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "grading")
	first := reading(t, "7KQ2XN4T", domain.MoisturePercent, "17.4")
	require.NoError(t, save(t, db, first))
	other := reading(t, "7KQ2XN4T", domain.RefractiveIndex, "1.4903")
	require.Equal(t, "reading_first_once", pg.Constraint(save(t, db, other)))
	second := reading(t, "7KQ2XN4T", domain.MoisturePercent, "17.5")
	second.Replaces = &first.ID
	require.Equal(t, "reading_replaced_with_reason", pg.Constraint(save(t, db, second)))
	second.Reason = "again"
	require.NoError(t, save(t, db, second))
	third := reading(t, "7KQ2XN4T", domain.MoisturePercent, "17.6")
	third.Replaces, third.Reason = &first.ID, "again"
	require.Equal(t, "reading_replaced_once", pg.Constraint(save(t, db, third)))
	unknown := uuid.New()
	third.Replaces = &unknown
	require.Equal(t, "reading_replaces_known", pg.Constraint(save(t, db, third)))
	nobody := reading(t, "DRH3C9WY", domain.MoisturePercent, "17.6")
	nobody.Analyst = ""
	require.Equal(t, "reading_analyst_known", pg.Constraint(save(t, db, nobody)))
}

func TestTheDatabaseKeepsCertificatesInOneLine(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "grading")
	issue := func(counter int64, supersedes *uuid.UUID, reason string) (uuid.UUID, error) {
		c := domain.Certificate{
			ID: uuid.New(), Number: domain.CertificateNumber(2026, counter), Sample: "7KQ2XN4T", Variety: "clover", CropYear: 2026,
			Releaser: "users/lead1", Time: noon, Supersedes: supersedes, Reason: reason, AppealUntil: noon,
		}
		return c.ID, inTx(t, db, func(ctx context.Context, tx pgx.Tx) error {
			return store.Store{}.SaveCertificate(ctx, tx, &c, app.IssuedKey{Year: 2026, Counter: counter})
		})
	}
	first, err := issue(1, nil, "")
	require.NoError(t, err)
	for want, try := range map[string]func() (uuid.UUID, error){
		"certificate_first_once":             func() (uuid.UUID, error) { return issue(2, nil, "") },
		"certificate_number_once":            func() (uuid.UUID, error) { return issue(1, &first, "again") },
		"certificate_superseded_with_reason": func() (uuid.UUID, error) { return issue(2, &first, "") },
	} {
		_, err := try()
		require.Equal(t, want, pg.Constraint(err))
	}
	second, err := issue(2, &first, "again")
	require.NoError(t, err)
	_, err = issue(3, &first, "again")
	require.Equal(t, "certificate_superseded_once", pg.Constraint(err))
	old, err := store.Store{}.Certificate(t.Context(), db.Pool(), first)
	require.NoError(t, err)
	require.Equal(t, second, *old.SupersededBy)
}

func TestAFailedTransactionGivesItsNumberBack(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "grading")
	take := func(fail error) (n int64) {
		err := inTx(t, db, func(ctx context.Context, tx pgx.Tx) (err error) {
			if n, err = (store.Store{}).NextNumber(ctx, tx, 2026); err != nil {
				return err
			}
			return fail
		})
		require.Equal(t, fail, err)
		return n
	}
	require.Equal(t, int64(1), take(nil))
	require.Equal(t, int64(2), take(context.Canceled))
	require.Equal(t, int64(2), take(nil))
}
