package store

import (
	"context"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain"
)

func scanLot(row pgx.CollectableRow) (domain.EquityLot, error) {
	var l domain.EquityLot
	err := row.Scan(&l.Member, &l.CropYear, &l.Class, &l.Issued, &l.Redeemed, &l.Given)
	return l, err
}

// EquityLots are the lots of a member, or of all for "", oldest first.
func (Store) EquityLots(ctx context.Context, q pg.Querier, member string) ([]domain.EquityLot, error) {
	return collect(ctx, q, "read the equity", `SELECT member, crop_year,
			CASE WHEN class = 1 AND d.qualified THEN 2 WHEN class = 1 AND NOT d.qualified THEN 3 ELSE class END, sum(issued)::bigint, sum(redeemed)::bigint, sum(given)::bigint FROM (
			SELECT p.member, p.crop_year, 1 AS class, -l.amount AS issued, 0::bigint AS redeemed, 0::bigint AS given FROM payout_line l JOIN payout p USING (payout)
				WHERE l.kind = 5 AND ($1 = '' OR p.member = $1)
			UNION ALL SELECT p.member, r.crop_year, CASE WHEN r.qualified THEN 4 ELSE 5 END, p.notice, 0, 0 FROM patronage_part p JOIN patronage_refund r USING (refund)
				WHERE p.notice > 0 AND ($1 = '' OR p.member = $1)
			UNION ALL SELECT member, crop_year, class, 0, amount, amount FROM equity_redeemed WHERE $1 = '' OR member = $1
			UNION ALL SELECT member, crop_year, 1, 0, amount, 0 FROM equity_correction WHERE $1 = '' OR member = $1) e
		LEFT JOIN retain_designation d USING (crop_year)
		GROUP BY member, crop_year, class, d.qualified HAVING sum(issued) <> 0 OR sum(redeemed) <> 0 ORDER BY crop_year, class, member`, scanLot, member)
}

// InsertRedemption saves a redemption with every member's part.
func (Store) InsertRedemption(ctx context.Context, tx pgx.Tx, r *domain.Redemption) error {
	b := &pgx.Batch{}
	b.Queue(`INSERT INTO equity_redemption (redemption, crop_year, percent, resolution, declarer, declare_time, estate) VALUES ($1, $2, $3, $4, $5, $6, $7)`,
		r.ID, r.CropYear, r.Percent, r.Resolution, r.Declarer, r.Time, r.Estate)
	for _, p := range r.Parts {
		b.Queue(`INSERT INTO equity_redeemed (part, redemption, member, crop_year, class, amount) VALUES ($1, $2, $3, $4, $5, $6)`,
			p.ID, r.ID, p.Member, r.CropYear, int16(p.Class), p.Amount) //nolint:gosec // one of three
	}
	return wrap("save the redemption", tx.SendBatch(ctx, b).Close())
}

// RedeemedLots are the lots of retains of these members of which anything was ever given back. The gate must be held.
func (Store) RedeemedLots(ctx context.Context, tx pgx.Tx, members []string) ([]domain.EquityLot, error) {
	return collect(ctx, tx, "read what was given back", `WITH given AS (SELECT member, crop_year, sum(amount) AS amount FROM equity_redeemed
			WHERE member = ANY($1) AND class = 1 GROUP BY 1, 2)
		SELECT member, crop_year, 1,
			(SELECT coalesce(-sum(l.amount), 0)::bigint FROM payout p JOIN payout_line l USING (payout) WHERE l.kind = 5 AND p.member = g.member AND p.crop_year = g.crop_year),
			(amount + (SELECT coalesce(sum(c.amount), 0) FROM equity_correction c WHERE c.member = g.member AND c.crop_year = g.crop_year))::bigint, amount::bigint
		FROM given g ORDER BY crop_year, member`, scanLot, members)
}

// InsertEquityCorrections saves corrections.
func (Store) InsertEquityCorrections(ctx context.Context, tx pgx.Tx, corrections []domain.EquityCorrection) error {
	b := &pgx.Batch{}
	for _, c := range corrections {
		b.Queue(`INSERT INTO equity_correction (correction, member, crop_year, amount, reason, payout, correct_time) VALUES ($1, $2, $3, $4, $5, $6, $7)`,
			c.ID, c.Member, c.CropYear, c.Amount, c.Reason, c.Payout, c.Time)
	}
	return wrap("correct the equity", tx.SendBatch(ctx, b).Close())
}

// EquityCorrections are a member's, in order.
func (Store) EquityCorrections(ctx context.Context, q pg.Querier, member string) ([]domain.EquityCorrection, error) {
	return collect(ctx, q, "read the corrections of equity", `SELECT correction, member, crop_year, amount, reason, payout, correct_time FROM equity_correction
		WHERE member = $1 ORDER BY place`, pgx.RowToStructByPos[domain.EquityCorrection], member)
}
