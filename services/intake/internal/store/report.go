package store

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/pg"
)

// NumberReport reads counter and tickets in one statement, so that a ticket opened meanwhile is in both or in neither.
func (Store) NumberReport(ctx context.Context, q pg.Querier, site string, year int) (domain.NumberReport, error) {
	rows, err := q.Query(ctx, `SELECT coalesce(c.last, 0), t.id, t.ordinal, t.state, coalesce(x.actor, t.opener), coalesce(x.reason, ''),
			coalesce(x.transition_time, t.open_time)
		FROM (SELECT $1::text AS site, $2::integer AS year) asked
		LEFT JOIN ticket_counter c USING (site, year)
		LEFT JOIN ticket t USING (site, year)
		LEFT JOIN LATERAL (SELECT * FROM ticket_transition r WHERE r.ticket = t.id ORDER BY r.version DESC LIMIT 1) x ON true
		ORDER BY t.ordinal`, site, year)
	if err != nil {
		return domain.NumberReport{}, wrap(err, "report ticket numbers")
	}
	var last int64
	var id *uuid.UUID
	var ordinal *int64
	var state, actor *string
	var reason string
	var at *time.Time
	var entries []domain.NumberEntry
	_, err = pgx.ForEachRow(rows, []any{&last, &id, &ordinal, &state, &actor, &reason, &at}, func() error {
		if id != nil {
			entries = append(entries, domain.NumberEntry{
				Ticket: *id, Number: domain.Number{Site: site, Year: year, Ordinal: *ordinal}, State: domain.State(*state),
				Actor: *actor, Reason: reason, Time: *at,
			})
		}
		return nil
	})
	return domain.Account(site, year, last, entries), wrap(err, "report ticket numbers")
}

// Weighers counts the barrels of a span by who weighed them.
func (Store) Weighers(ctx context.Context, q pg.Querier, span domain.Span) ([]domain.WeigherLine, error) {
	rows, err := q.Query(ctx, `SELECT weigher, count(*), count(*) FILTER (WHERE manual) AS typed,
			count(*) FILTER (WHERE NOT manual AND cardinality(warnings) > 0), count(u.capture),
			count(*) FILTER (WHERE NOT manual AND u.capture IS NULL AND weigh_time <> record_time)
		FROM barrel b LEFT JOIN indication_use u ON u.barrel = b.id AND coalesce(u.reweigh, 0) = 0 WHERE weigh_time >= $1 AND weigh_time < $2 GROUP BY weigher ORDER BY typed DESC, weigher`, span.From, span.Until)
	if err != nil {
		return nil, wrap(err, "report weighers")
	}
	lines, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (domain.WeigherLine, error) {
		var l domain.WeigherLine
		err := row.Scan(&l.Weigher, &l.Barrels, &l.Manual, &l.Overridden, &l.Captured, &l.Offline)
		return l, err
	})
	return lines, wrap(err, "report weighers")
}
