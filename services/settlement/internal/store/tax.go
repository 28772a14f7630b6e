package store

import (
	"context"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/tax"
)

// The kinds are those of the tax package. What was credited and given back is of the day it was booked; what was paid of the
// day of payment.
const taxFacts = `
	WITH booked AS (SELECT source FROM journal WHERE entry_date BETWEEN $2 AND $3),
	p AS (SELECT payout.* FROM payout JOIN booked ON source = 'payouts/' || payout WHERE $1 = '' OR member = $1)
	SELECT member, kind, crop_year,
		CASE WHEN class = 1 AND d.qualified THEN 2 WHEN class = 1 AND NOT d.qualified THEN 3 ELSE class END, sum(amount)::bigint FROM (
		SELECT member, 1 AS kind, 0 AS crop_year, 0 AS class, net_amount AS amount FROM p
		UNION ALL SELECT p.member, 2, p.crop_year, 1, -l.amount FROM p JOIN payout_line l USING (payout) WHERE l.kind = 5
		UNION ALL SELECT x.member, 3, r.crop_year, 0, x.cash FROM patronage_part x JOIN patronage_refund r USING (refund)
			WHERE r.declare_date BETWEEN $2 AND $3 AND ($1 = '' OR x.member = $1)
		UNION ALL SELECT x.member, 4, r.crop_year, CASE WHEN r.qualified THEN 4 ELSE 5 END, x.notice FROM patronage_part x JOIN patronage_refund r USING (refund)
			WHERE r.declare_date BETWEEN $2 AND $3 AND ($1 = '' OR x.member = $1)
		UNION ALL SELECT y.member, 5, 0, 0, y.amount FROM payment y JOIN encumbrance e ON y.payee = 'encumbrances/' || e.encumbrance
			WHERE e.kind = 1 AND y.pay_date BETWEEN $2 AND $3 AND ($1 = '' OR y.member = $1)
		UNION ALL SELECT q.member, 6, q.crop_year, q.class, q.amount FROM equity_redeemed q JOIN booked ON source = 'redeemed/' || q.part
			WHERE $1 = '' OR q.member = $1
		UNION ALL SELECT c.member, 6, c.crop_year, 1, c.amount FROM equity_correction c JOIN booked ON source = 'equityCorrections/' || c.correction
			WHERE $1 = '' OR c.member = $1) f
	LEFT JOIN retain_designation d USING (crop_year)
	GROUP BY member, kind, crop_year, class, d.qualified HAVING sum(amount) <> 0 ORDER BY member, kind, crop_year, class`

// TaxFacts are the sums of a calendar year of a member, or of all for "".
func (Store) TaxFacts(ctx context.Context, q pg.Querier, member string, from, through domain.Date) ([]tax.Fact, error) {
	return collect(ctx, q, "sum the year", taxFacts, pgx.RowToStructByPos[tax.Fact], member, day(from), day(through))
}

// TaxPayees are whom a calendar year's money went to, less what the bank returned, of a member or of all for "".
func (Store) TaxPayees(ctx context.Context, q pg.Querier, member string, from, through domain.Date) ([]tax.Payee, error) {
	return collect(ctx, q, "sum the payees", `SELECT p.member, p.paid_to, coalesce(e.kind, 0)::int, sum(p.amount)::bigint
		FROM payment p LEFT JOIN encumbrance e ON p.payee = 'encumbrances/' || e.encumbrance
		WHERE p.pay_date BETWEEN $2 AND $3 AND ($1 = '' OR p.member = $1)
		GROUP BY p.member, p.payee, p.paid_to, e.kind HAVING sum(p.amount) <> 0 ORDER BY p.member, coalesce(e.kind, 0), p.paid_to`,
		pgx.RowToStructByPos[tax.Payee], member, day(from), day(through))
}

// MemberNames are the display names of members.
func (Store) MemberNames(ctx context.Context, q pg.Querier, members []string) (map[string]string, error) {
	rows, err := q.Query(ctx, `SELECT member, display_name FROM intake_member WHERE member = ANY($1)`, members)
	if err != nil {
		return nil, wrap("read the names", err)
	}
	names := map[string]string{}
	var member, name string
	_, err = pgx.ForEachRow(rows, []any{&member, &name}, func() error {
		names[member] = name
		return nil
	})
	return names, wrap("read the names", err)
}
