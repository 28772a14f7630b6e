package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain"
)

var scheduleColumns = `s.schedule, s.crop_year, s.version, ` + date("s.effective_date") + `, s.moisture_base, s.moisture_step, s.price_rows,
	s.charges, s.drafter, s.draft_time, coalesce(a.resolution, ''), coalesce(a.adopter, ''), a.adopt_time
	FROM schedule s LEFT JOIN schedule_adoption a USING (schedule)`

func scanSchedule(row pgx.CollectableRow) (*domain.Schedule, error) {
	var s domain.Schedule
	var adopted *time.Time
	err := row.Scan(&s.ID, &s.CropYear, &s.Version, &s.Effective, &s.Moisture.Base, &s.Moisture.Step, &s.Rows,
		&s.Charges, &s.Drafter, &s.DraftTime, &s.Resolution, &s.Adopter, &adopted)
	if adopted != nil {
		s.AdoptTime = *adopted
	}
	return &s, err
}

// InsertSchedule saves a draft.
func (Store) InsertSchedule(ctx context.Context, tx pgx.Tx, s *domain.Schedule) error {
	return exec(ctx, tx, "save the schedule", `INSERT INTO schedule
		(schedule, crop_year, version, effective_date, moisture_base, moisture_step, price_rows, charges, drafter, draft_time)
		VALUES ($1, $2, $3, $4::text::date, $5, $6, $7, $8, $9, $10)`,
		s.ID, s.CropYear, s.Version, s.Effective, s.Moisture.Base, s.Moisture.Step, s.Rows, append([]domain.Charge{}, s.Charges...), s.Drafter, s.DraftTime)
}

// InsertAdoption records the board's resolution. A second schedule from the same day is a *domain.OverlapError.
func (Store) InsertAdoption(ctx context.Context, tx pgx.Tx, s *domain.Schedule) error {
	err := exec(ctx, tx, "save the adoption", `INSERT INTO schedule_adoption
		(schedule, crop_year, effective_date, resolution, adopter, adopt_time) VALUES ($1, $2, $3::text::date, $4, $5, $6)`,
		s.ID, s.CropYear, s.Effective, s.Resolution, s.Adopter, s.AdoptTime)
	return pg.Named(err, map[string]error{
		"schedule_starts_once": &domain.OverlapError{Schedule: s.Name(), CropYear: s.CropYear, Effective: s.Effective},
	})
}

// NextVersion is the version the next draft of a crop year gets. The gate must be held.
func (Store) NextVersion(ctx context.Context, tx pgx.Tx, cropYear int) (int, error) {
	var next int
	err := tx.QueryRow(ctx, `SELECT coalesce(max(version), 0) + 1 FROM schedule WHERE crop_year = $1`, cropYear).Scan(&next)
	if err != nil {
		return 0, fmt.Errorf("count the versions: %w", err)
	}
	return next, nil
}

// Schedule is one schedule, or nil.
func (Store) Schedule(ctx context.Context, q pg.Querier, id uuid.UUID) (*domain.Schedule, error) {
	rows, err := q.Query(ctx, `SELECT `+scheduleColumns+` WHERE s.schedule = $1`, id)
	if err != nil {
		return nil, fmt.Errorf("read the schedule: %w", err)
	}
	s, err := pgx.CollectExactlyOneRow(rows, scanSchedule)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("read the schedule: %w", err)
	}
	return s, nil
}

// AdoptedSchedules are all schedules that price.
func (Store) AdoptedSchedules(ctx context.Context, q pg.Querier) ([]*domain.Schedule, error) {
	return collect(ctx, q, "read the adopted schedules", `SELECT `+scheduleColumns+` WHERE a.schedule IS NOT NULL
		ORDER BY s.crop_year, s.version`, scanSchedule)
}

// ListSchedules gives schedules, newest crop year and version first, drafts only where asked for.
func (Store) ListSchedules(ctx context.Context, q pg.Querier, after domain.ScheduleKey, drafts bool, limit int) ([]*domain.Schedule, error) {
	return collect(ctx, q, "list the schedules", `SELECT `+scheduleColumns+`
		WHERE ($1 = 0 OR (s.crop_year, s.version) < ($1, $2)) AND ($3 OR a.schedule IS NOT NULL)
		ORDER BY s.crop_year DESC, s.version DESC LIMIT $4`, scanSchedule, after.CropYear, after.Version, drafts, limit)
}

// AdoptionKey is a text that is the same if, and only if, the same schedules were adopted, the same runs released and the same
// progress paid, in the same words.
func (Store) AdoptionKey(ctx context.Context, q pg.Querier) (string, error) {
	var key string
	err := q.QueryRow(ctx, `SELECT concat(
		(SELECT string_agg(concat_ws('|', schedule, resolution, adopter, adopt_time), E'\n' ORDER BY schedule) FROM schedule_adoption), E'\n\n',
		(SELECT string_agg(run::text, E'\n' ORDER BY run) FROM run_release), E'\n\n',
		(SELECT string_agg(progress::text, E'\n' ORDER BY progress) FROM progress_adoption), E'\n\n',
		(SELECT string_agg(pool::text, E'\n' ORDER BY pool) FROM pool WHERE EXISTS (SELECT 1 FROM progress_adoption)))`).Scan(&key)
	if err != nil {
		return "", fmt.Errorf("look for new adoptions: %w", err)
	}
	return key, nil
}
