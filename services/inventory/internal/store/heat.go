package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/heat"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/kit/pg"
)

// LockStay keeps others from recording for a stay or allowing it, and reads it with what it warms; nothing is warmed by one that has no
// readings yet, and of that only its allowances are known.
func (s Store) LockStay(ctx context.Context, q pg.Querier, id string) (heat.Stay, []lots.Place, error) {
	stay := heat.Stay{ID: id}
	if _, err := q.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtextextended('heatStays/' || $1, 0))`, id); err != nil {
		return stay, nil, fmt.Errorf("lock heat stay: %w", err)
	}
	var places []lots.Place
	err := q.QueryRow(ctx, `
		SELECT s.limit_celsius, s.opener, s.second_person, s.second_reason, ARRAY(SELECT w.place FROM heat_warmed w WHERE w.stay = s.stay ORDER BY w.place)
		FROM heat_stay s WHERE s.stay = $1`, id).Scan(&stay.Limit, &stay.Opener, &stay.Typed, &stay.Why, &places)
	if err != nil && !errors.Is(err, pgx.ErrNoRows) {
		return stay, nil, fmt.Errorf("read heat stay: %w", err)
	}
	all, err := s.allowancesOf(ctx, q, []string{id})
	stay.Allowances = all[id]
	return stay, places, err
}

// OpenStay enters a stay with what it warms.
func (Store) OpenStay(ctx context.Context, q pg.Querier, stay heat.Stay, warmed []lots.Place, now time.Time) error {
	if _, err := q.Exec(ctx, `INSERT INTO heat_stay (stay, create_time, limit_celsius, opener) VALUES ($1, $2, $3, $4)`,
		stay.ID, now, stay.Limit, stay.Opener); err != nil {
		return fmt.Errorf("open heat stay: %w", err)
	}
	_, err := q.Exec(ctx, `INSERT INTO heat_warmed (stay, place) SELECT $1, unnest($2::text[])`, stay.ID, warmed)
	return wrap("open heat stay", err)
}

const allowanceColumns = `
SELECT a.heat_allowance, a.number, a.stay, a.limit_celsius, a.reason, a.allower, a.allow_time, coalesce(s.opener, '')
FROM heat_allowance a LEFT JOIN heat_stay s ON s.stay = a.stay`

func scanAllowance(row pgx.CollectableRow) (a heat.Allowance, err error) {
	err = row.Scan(&a.ID, &a.Number, &a.Stay, &a.Limit, &a.Reason, &a.Allower, &a.Time, &a.Opener)
	a.Time = utc(a.Time)
	return a, err
}

// allowancesOf are those of some stays, the oldest first.
func (Store) allowancesOf(ctx context.Context, q pg.Querier, stays []string) (map[string][]heat.Allowance, error) {
	rows, err := q.Query(ctx, allowanceColumns+` WHERE a.stay = ANY($1) ORDER BY a.number`, stays)
	if err != nil {
		return nil, fmt.Errorf("read heat allowances: %w", err)
	}
	all, err := pgx.CollectRows(rows, scanAllowance)
	out := map[string][]heat.Allowance{}
	for _, a := range all {
		out[a.Stay] = append(out[a.Stay], a)
	}
	return out, wrap("read heat allowances", err)
}

// AddAllowance appends one.
func (Store) AddAllowance(ctx context.Context, q pg.Querier, a heat.Allowance) error {
	_, err := q.Exec(ctx, `INSERT INTO heat_allowance (heat_allowance, stay, limit_celsius, reason, allower, allow_time) VALUES ($1, $2, $3, $4, $5, $6)`,
		a.ID, a.Stay, a.Limit, a.Reason, a.Allower, a.Time)
	return wrap("allow heat", err)
}

// Allowances lists those of a stay, or all, the newest first.
func (Store) Allowances(ctx context.Context, q pg.Querier, stay string, before int64, limit int) ([]heat.Allowance, error) {
	rows, err := q.Query(ctx, allowanceColumns+` WHERE ($1 = '' OR a.stay = $1) AND a.number < $2 ORDER BY a.number DESC LIMIT $3`, stay, before, limit)
	if err != nil {
		return nil, fmt.Errorf("list heat allowances: %w", err)
	}
	out, err := pgx.CollectRows(rows, scanAllowance)
	return out, wrap("list heat allowances", err)
}

// AddReadings appends readings. A logger that lost its line sends some again, and one that writes a file sends all of it each time.
func (Store) AddReadings(ctx context.Context, q pg.Querier, l heat.Log, recorder string, now time.Time) error {
	times, celsius := make([]time.Time, len(l.Readings)), make([]int64, len(l.Readings))
	for i, r := range l.Readings {
		times[i], celsius[i] = r.Time, int64(r.Celsius)
	}
	if _, err := q.Exec(ctx, `
		INSERT INTO heat_reading (stay, probe, time, celsius, recorder, record_time)
		SELECT $1, $2, r.time, r.celsius, $5, $6 FROM unnest($3::timestamptz[], $4::bigint[]) r (time, celsius)
		ON CONFLICT ON CONSTRAINT heat_reading_once DO NOTHING`, l.ID, l.Probe, times, celsius, recorder, now); err != nil {
		return fmt.Errorf("record temperatures: %w", err)
	}
	var other *time.Time
	if err := q.QueryRow(ctx, `
		SELECT min(k.time) FROM unnest($3::timestamptz[], $4::bigint[]) r (time, celsius)
		JOIN heat_reading k ON k.stay = $1 AND k.probe = $2 AND k.time = r.time AND k.celsius <> r.celsius`,
		l.ID, l.Probe, times, celsius).Scan(&other); err != nil {
		return fmt.Errorf("compare temperatures: %w", err)
	}
	if other != nil {
		return &app.ExistsError{Resource: "another reading of probe " + l.Probe + " at " + other.UTC().Format("2006-01-02 15:04:05 UTC")}
	}
	return nil
}

// HeatLogs reads every log of some places.
func (s Store) HeatLogs(ctx context.Context, q pg.Querier, places []lots.Place) (map[lots.Place][]heat.Log, error) {
	rows, err := q.Query(ctx, `
		SELECT w.place, r.stay, r.probe, s.limit_celsius, s.opener, s.second_person, s.second_reason,
		       array_agg(r.time ORDER BY r.time), array_agg(r.celsius ORDER BY r.time)
		FROM heat_warmed w JOIN heat_reading r USING (stay) JOIN heat_stay s USING (stay) WHERE w.place = ANY($1)
		GROUP BY w.place, r.stay, r.probe, s.limit_celsius, s.opener, s.second_person, s.second_reason ORDER BY w.place, r.stay, r.probe`, places)
	if err != nil {
		return nil, fmt.Errorf("read temperatures: %w", err)
	}
	logs := map[lots.Place][]heat.Log{}
	var stays []string
	var place lots.Place
	var l heat.Log
	var times []time.Time
	var celsius []heat.Celsius
	_, err = pgx.ForEachRow(rows, []any{&place, &l.ID, &l.Probe, &l.Limit, &l.Opener, &l.Typed, &l.Why, &times, &celsius}, func() error {
		l.Readings = nil
		for i := range times {
			l.Readings = append(l.Readings, heat.Reading{Time: utc(times[i]), Celsius: celsius[i]})
		}
		logs[place], stays = append(logs[place], l), append(stays, l.ID)
		return nil
	})
	if err != nil || len(stays) == 0 {
		return logs, wrap("read temperatures", err)
	}
	allowances, err := s.allowancesOf(ctx, q, stays)
	for _, of := range logs {
		for i := range of {
			of[i].Allowances = allowances[of[i].ID]
		}
	}
	return logs, err
}

// Inflows adds up what was poured into a place, by where it came from: what a customer sent back came from where it had left the house.
// What is under a thousandth of it is left out.
func (Store) Inflows(ctx context.Context, q pg.Querier, place lots.Place) ([]lots.Part, error) {
	rows, err := q.Query(ctx, `
		SELECT coalesce(nullif(of_place, ''), from_place) AS source, sum(mass)::bigint FROM transfer WHERE to_place = $1
		GROUP BY source HAVING sum(mass) * 1000 >= (SELECT sum(mass) FROM transfer WHERE to_place = $1) ORDER BY source`, place)
	if err != nil {
		return nil, fmt.Errorf("read what was poured in: %w", err)
	}
	parts, err := pgx.CollectRows(rows, pgx.RowToStructByPos[lots.Part])
	return parts, wrap("read what was poured in", err)
}
