package store

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain"
)

// Weights come from the standing advances, money from the lines of all payouts, and credited from the payouts themselves:
// the last two must agree. $1 lists members.
const memberTotals = `
	WITH m AS (SELECT member, display_name FROM intake_member WHERE member = ANY($1))
	SELECT m.member, m.display_name, coalesce(b.barrels, 0), coalesce(w.priced, 0), coalesce(w.net, 0), coalesce(w.payable, 0),
		coalesce(l.gross, 0), coalesce(l.deductions, 0), coalesce(l.retained, 0), coalesce(c.credited, 0)
	FROM m
	LEFT JOIN (SELECT o.member, count(*) AS barrels FROM (
		SELECT member FROM intake_barrel WHERE counts AND owners = '{}' AND member = ANY($1)
		UNION ALL SELECT unnest(owners) FROM intake_barrel WHERE counts AND owners <> '{}' AND owners && $1) o GROUP BY 1) b USING (member)
	LEFT JOIN (SELECT p.member, count(*) AS priced, sum(p.net)::bigint AS net, sum(p.payable)::bigint AS payable
		FROM standing_advance JOIN payout p USING (payout) WHERE p.member = ANY($1) GROUP BY 1) w USING (member)
	LEFT JOIN (SELECT member, coalesce(sum(amount) FILTER (WHERE l.kind NOT IN (3, 5)), 0)::bigint AS gross,
		coalesce(sum(amount) FILTER (WHERE l.kind IN (3, 5)), 0)::bigint AS deductions,
		coalesce(-sum(amount) FILTER (WHERE l.kind = 5), 0)::bigint AS retained
		FROM payout p JOIN payout_line l USING (payout) WHERE member = ANY($1) GROUP BY 1) l USING (member)
	LEFT JOIN (SELECT member, sum(net_amount)::bigint AS credited FROM payout WHERE member = ANY($1) GROUP BY 1) c USING (member)
	ORDER BY m.member`

func scanTotal(row pgx.CollectableRow) (domain.MemberTotal, error) {
	var t domain.MemberTotal
	err := row.Scan(&t.Member, &t.DisplayName, &t.Barrels, &t.Priced, &t.Net, &t.Payable, &t.Gross, &t.Deductions, &t.Retained, &t.Credited)
	return t, err
}

// MemberTotals are the totals of these members, by number; unknown ones are left out.
func (Store) MemberTotals(ctx context.Context, q pg.Querier, members []string) ([]domain.MemberTotal, error) {
	return collect(ctx, q, "total the payouts", memberTotals, scanTotal, members)
}

// Members are the numbers of the members after one, in order.
func (Store) Members(ctx context.Context, q pg.Querier, after string, limit int) ([]string, error) {
	return collect(ctx, q, "list the members", `SELECT member FROM intake_member WHERE member > $1 ORDER BY member LIMIT $2`,
		pgx.RowTo[string], after, limit)
}

// KnowsMember reports whether intake has registered the member.
func (Store) KnowsMember(ctx context.Context, q pg.Querier, member string) (bool, error) {
	var known bool
	err := q.QueryRow(ctx, `SELECT EXISTS (SELECT 1 FROM intake_member WHERE member = $1)`, member).Scan(&known)
	if err != nil {
		return false, fmt.Errorf("look for the member: %w", err)
	}
	return known, nil
}

// GrandTotal is the total over everybody. It is reached from the payout lines and never from the members' totals, so that a
// payout missing from a member's row shows as a difference.
func (Store) GrandTotal(ctx context.Context, q pg.Querier) (domain.MemberTotal, error) {
	rows, err := q.Query(ctx, `SELECT '', '',
		(SELECT count(*) FROM intake_barrel WHERE counts),
		(SELECT count(DISTINCT barrel) FROM standing_advance),
		(SELECT coalesce(sum(p.net), 0)::bigint FROM standing_advance JOIN payout p USING (payout)),
		(SELECT coalesce(sum(payable), 0)::bigint FROM standing_advance),
		coalesce(sum(amount) FILTER (WHERE kind NOT IN (3, 5)), 0)::bigint,
		coalesce(sum(amount) FILTER (WHERE kind IN (3, 5)), 0)::bigint, coalesce(-sum(amount) FILTER (WHERE kind = 5), 0)::bigint,
		(SELECT coalesce(sum(net_amount), 0)::bigint FROM payout) FROM payout_line`)
	if err != nil {
		return domain.MemberTotal{}, fmt.Errorf("total everything: %w", err)
	}
	t, err := pgx.CollectExactlyOneRow(rows, scanTotal)
	if err != nil {
		return t, fmt.Errorf("total everything: %w", err)
	}
	return t, nil
}
