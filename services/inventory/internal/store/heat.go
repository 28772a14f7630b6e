package store

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/heat"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/kit/pg"
)

// OpenStay locks a stay and enters it if it is new.
func (Store) OpenStay(ctx context.Context, q pg.Querier, stay heat.Stay, warmed []lots.Place, now time.Time) (heat.Stay, []lots.Place, error) {
	if _, err := q.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtextextended('heatStays/' || $1, 0))`, stay.ID); err != nil {
		return stay, nil, fmt.Errorf("lock heat stay: %w", err)
	}
	tag, err := q.Exec(ctx, `
		INSERT INTO heat_stay (stay, create_time, limit_celsius, second_person, second_reason) VALUES ($1, $2, $3, $4, $5) ON CONFLICT (stay) DO NOTHING`,
		stay.ID, now, stay.Limit, stay.Second, stay.Why)
	if err != nil {
		return stay, nil, fmt.Errorf("open heat stay: %w", err)
	}
	if tag.RowsAffected() == 1 {
		if _, err := q.Exec(ctx, `INSERT INTO heat_warmed (stay, place) SELECT $1, unnest($2::text[])`, stay.ID, warmed); err != nil {
			return stay, nil, fmt.Errorf("open heat stay: %w", err)
		}
	}
	var places []lots.Place
	err = q.QueryRow(ctx, `
		SELECT s.limit_celsius, s.second_person, s.second_reason, ARRAY(SELECT w.place FROM heat_warmed w WHERE w.stay = s.stay ORDER BY w.place)
		FROM heat_stay s WHERE s.stay = $1`, stay.ID).Scan(&stay.Limit, &stay.Second, &stay.Why, &places)
	return stay, places, wrap("read heat stay", err)
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
		ON CONFLICT ON CONSTRAINT heat_reading_once DO NOTHING`, l.Stay, l.Probe, times, celsius, recorder, now); err != nil {
		return fmt.Errorf("record temperatures: %w", err)
	}
	var other *time.Time
	if err := q.QueryRow(ctx, `
		SELECT min(k.time) FROM unnest($3::timestamptz[], $4::bigint[]) r (time, celsius)
		JOIN heat_reading k ON k.stay = $1 AND k.probe = $2 AND k.time = r.time AND k.celsius <> r.celsius`,
		l.Stay, l.Probe, times, celsius).Scan(&other); err != nil {
		return fmt.Errorf("compare temperatures: %w", err)
	}
	if other != nil {
		return &app.ExistsError{Resource: "another reading of probe " + l.Probe + " at " + other.UTC().Format("2006-01-02 15:04:05 UTC")}
	}
	return nil
}

// HeatLogs reads every log of some places.
func (Store) HeatLogs(ctx context.Context, q pg.Querier, places []lots.Place) (map[lots.Place][]heat.Log, error) {
	rows, err := q.Query(ctx, `
		SELECT w.place, r.stay, r.probe, s.limit_celsius, s.second_person, s.second_reason, array_agg(r.time ORDER BY r.time), array_agg(r.celsius ORDER BY r.time)
		FROM heat_warmed w JOIN heat_reading r USING (stay) JOIN heat_stay s USING (stay) WHERE w.place = ANY($1)
		GROUP BY w.place, r.stay, r.probe, s.limit_celsius, s.second_person, s.second_reason ORDER BY w.place, r.stay, r.probe`, places)
	if err != nil {
		return nil, fmt.Errorf("read temperatures: %w", err)
	}
	logs := map[lots.Place][]heat.Log{}
	var place lots.Place
	var l heat.Log
	var times []time.Time
	var celsius []heat.Celsius
	_, err = pgx.ForEachRow(rows, []any{&place, &l.Stay, &l.Probe, &l.Limit, &l.Second, &l.Why, &times, &celsius}, func() error {
		l.Readings = nil
		for i := range times {
			l.Readings = append(l.Readings, heat.Reading{Time: utc(times[i]), Celsius: celsius[i]})
		}
		logs[place] = append(logs[place], l)
		return nil
	})
	return logs, wrap("read temperatures", err)
}

// Inflows adds up what was poured from barrels and charges into a place, by where it came from. What is under a thousandth of it
// is left out.
func (Store) Inflows(ctx context.Context, q pg.Querier, place lots.Place) ([]lots.Part, error) {
	rows, err := q.Query(ctx, `
		SELECT from_place, sum(mass)::bigint FROM transfer WHERE to_place = $1 AND (from_place LIKE 'stock/%' OR from_place LIKE 'charges/%')
		GROUP BY from_place HAVING sum(mass) * 1000 >= (SELECT sum(mass) FROM transfer WHERE to_place = $1) ORDER BY from_place`, place)
	if err != nil {
		return nil, fmt.Errorf("read what was poured in: %w", err)
	}
	parts, err := pgx.CollectRows(rows, pgx.RowToStructByPos[lots.Part])
	return parts, wrap("read what was poured in", err)
}
