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
		INSERT INTO heat_stay (stay, create_time, limit_celsius, second_person) VALUES ($1, $2, $3, $4) ON CONFLICT (stay) DO NOTHING`,
		stay.ID, now, stay.Limit, stay.Second)
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
		SELECT s.limit_celsius, s.second_person, ARRAY(SELECT w.place FROM heat_warmed w WHERE w.stay = s.stay ORDER BY w.place)
		FROM heat_stay s WHERE s.stay = $1`, stay.ID).Scan(&stay.Limit, &stay.Second, &places)
	return stay, places, wrap("read heat stay", err)
}

// AddReadings appends readings.
func (Store) AddReadings(ctx context.Context, q pg.Querier, l heat.Log, recorder string, now time.Time) error {
	b := &pgx.Batch{}
	for _, r := range l.Readings {
		b.Queue(`INSERT INTO heat_reading (stay, probe, time, celsius, recorder, record_time) VALUES ($1, $2, $3, $4, $5, $6)`,
			l.Stay, l.Probe, r.Time, r.Celsius, recorder, now)
	}
	err := q.SendBatch(ctx, b).Close()
	return wrap("record temperatures", pg.Named(err, map[string]error{
		"heat_reading_once": &app.ExistsError{Resource: "a reading of probe " + l.Probe + " at one of these moments"},
	}))
}

// HeatLogs reads every log of some places.
func (Store) HeatLogs(ctx context.Context, q pg.Querier, places []lots.Place) (map[lots.Place][]heat.Log, error) {
	rows, err := q.Query(ctx, `
		SELECT w.place, r.stay, r.probe, s.limit_celsius, array_agg(r.time ORDER BY r.time), array_agg(r.celsius ORDER BY r.time)
		FROM heat_warmed w JOIN heat_reading r USING (stay) JOIN heat_stay s USING (stay) WHERE w.place = ANY($1)
		GROUP BY w.place, r.stay, r.probe, s.limit_celsius ORDER BY w.place, r.stay, r.probe`, places)
	if err != nil {
		return nil, fmt.Errorf("read temperatures: %w", err)
	}
	logs := map[lots.Place][]heat.Log{}
	var place lots.Place
	var l heat.Log
	var times []time.Time
	var celsius []heat.Celsius
	_, err = pgx.ForEachRow(rows, []any{&place, &l.Stay, &l.Probe, &l.Limit, &times, &celsius}, func() error {
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
