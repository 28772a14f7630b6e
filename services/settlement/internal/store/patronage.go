package store

import (
	"context"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain"
)

// InsertDesignation saves the board's word on a crop year's retains. A second one is a *domain.StateError.
func (Store) InsertDesignation(ctx context.Context, tx pgx.Tx, d domain.Designation) error {
	err := exec(ctx, tx, "save the designation", `INSERT INTO retain_designation (crop_year, qualified, consent, resolution, declarer, declare_time)
		VALUES ($1, $2, $3, $4, $5, $6)`, d.CropYear, d.Qualified, d.Consent, d.Resolution, d.Declarer, d.Time)
	return pg.Named(err, map[string]error{"retain_designation_once": &domain.StateError{
		Resource: "equity", State: "DESIGNATED", Message: "the retains of this crop year are designated already; that is given once",
	}})
}

// InsertRefund saves a refund with every member's part.
func (Store) InsertRefund(ctx context.Context, tx pgx.Tx, r *domain.Refund) error {
	b := &pgx.Batch{}
	b.Queue(`INSERT INTO patronage_refund (refund, crop_year, fiscal_year_end, total, cash_percent, qualified, consent, resolution, declarer, declare_time, declare_date)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`,
		r.ID, r.CropYear, day(r.FiscalEnd), r.Total, r.CashPercent, r.Qualified, r.Consent, r.Resolution, r.Declarer, r.Time, day(r.Date))
	for _, p := range r.Parts {
		b.Queue(`INSERT INTO patronage_part (refund, member, cash, notice, odd) VALUES ($1, $2, $3, $4, $5)`, r.ID, p.Member, p.Cash, p.Notice, p.Odd)
	}
	return wrap("save the refund", tx.SendBatch(ctx, b).Close())
}

func scanRefund(row pgx.CollectableRow) (*domain.Refund, error) {
	var r domain.Refund
	err := row.Scan(&r.ID, &r.Place, &r.CropYear, &r.FiscalEnd, &r.Total, &r.CashPercent, &r.Qualified, &r.Consent, &r.Resolution, &r.Declarer, &r.Time, &r.Date)
	return &r, err
}

// Refunds are all of them with their parts, the newest first.
func (Store) Refunds(ctx context.Context, q pg.Querier) ([]*domain.Refund, error) {
	found, err := collect(ctx, q, "read the refunds", `SELECT refund, place, crop_year, `+date("fiscal_year_end")+`, total, cash_percent, qualified, consent,
		resolution, declarer, declare_time, `+date("declare_date")+` FROM patronage_refund ORDER BY place DESC`, scanRefund)
	if err != nil {
		return nil, err
	}
	for _, r := range found {
		r.Parts, err = collect(ctx, q, "read the parts of a refund", `SELECT member, cash, notice, odd FROM patronage_part WHERE refund = $1 ORDER BY member`,
			pgx.RowToStructByPos[domain.RefundPart], r.ID)
		if err != nil {
			return nil, err
		}
	}
	return found, nil
}

// Patrons are the members with what their honey of a crop year was credited for, by number.
func (Store) Patrons(ctx context.Context, q pg.Querier, cropYear int) ([]domain.Patron, error) {
	return collect(ctx, q, "read the patronage", `SELECT member, sum(gross_amount)::bigint FROM payout WHERE crop_year = $1 GROUP BY member ORDER BY member`,
		pgx.RowToStructByPos[domain.Patron], cropYear)
}
