package store

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

func scanStanding(row pgx.CollectableRow) (pool.Standing, error) {
	var s pool.Standing
	var outcome []byte
	if err := row.Scan(&s.Title, &s.Run, &s.Fingerprint, &outcome, &s.All.Members, &s.All.Payable, &s.All.Value, &s.Own.Payable, &s.Own.Value); err != nil {
		return s, fmt.Errorf("read a pool: %w", err)
	}
	summary, err := pool.ReadSummary(outcome)
	if err == nil {
		s.Classes = summary.Classes
	}
	return s, err
}

// Standings are the closed pools of a crop year a member has honey in, with its part of each.
func (Store) Standings(ctx context.Context, q pg.Querier, member string, cropYear int) ([]pool.Standing, error) {
	return collect(ctx, q, "read the member's pools", `SELECT p.title, s.number, s.fingerprint, s.outcome, t.members, t.payable, t.value, m.payable, m.value
		FROM run_release r JOIN settlement_run s USING (run) JOIN pool p ON p.pool = s.pool JOIN run_member m ON m.run = r.run AND m.member = $1
		CROSS JOIN LATERAL (SELECT count(*) AS members, sum(payable)::bigint AS payable, sum(value)::bigint AS value FROM run_member x WHERE x.run = r.run) t
		WHERE p.crop_year = $2 ORDER BY s.place`, scanStanding, member, cropYear)
}
