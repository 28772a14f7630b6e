package store

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// KeepSalePart notes what of a sale belongs to honey of one floral source and crop year.
func (Store) KeepSalePart(ctx context.Context, tx pgx.Tx, s *pool.SalePart) error {
	return exec(ctx, tx, "note the sale", `INSERT INTO inventory_sale_part
		(sale, place, shipment, kind, crop_year, variety, mass, amount, document, entry_date) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
		ON CONFLICT (sale, place) DO NOTHING`,
		s.Sale, s.Place, s.Shipment, int16(s.Kind), s.CropYear, s.Variety, s.Mass, s.Amount, s.Document, day(s.Date)) //nolint:gosec // one of two kinds
}

// UnbookedSales are parts that stand on no account, in the order of their date.
func (Store) UnbookedSales(ctx context.Context, q pg.Querier, cropYear int, after pool.SaleKey, limit int) ([]*pool.SalePart, error) {
	from := after.Date
	if after.Sale == (uuid.UUID{}) {
		from = "0001-01-01"
	}
	return collect(ctx, q, "read the sales", `SELECT sale, place, shipment, kind, crop_year, variety, mass, amount, document, `+date("entry_date")+`
		FROM inventory_sale_part s
		WHERE NOT EXISTS (SELECT FROM pool_entry e WHERE e.sale = s.sale AND e.sale_place = s.place) AND ($1 = 0 OR crop_year = $1)
			AND (entry_date, sale, place) > ($2::date, $3::uuid, $4::integer)
		ORDER BY entry_date, sale, place LIMIT nullif($5, 0)`,
		func(row pgx.CollectableRow) (*pool.SalePart, error) {
			var s pool.SalePart
			err := row.Scan(&s.Sale, &s.Place, &s.Shipment, &s.Kind, &s.CropYear, &s.Variety, &s.Mass, &s.Amount, &s.Document, &s.Date)
			return &s, err
		}, cropYear, day(from), after.Sale, after.Place, limit)
}
