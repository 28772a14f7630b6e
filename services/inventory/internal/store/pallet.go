package store

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/pg"
)

// AddPallet records a pallet; its number makes its code.
func (Store) AddPallet(ctx context.Context, q pg.Querier, p *lots.Pallet, prefix string) error {
	err := q.QueryRow(ctx, `INSERT INTO pallet (pallet, builder, build_time) VALUES ($1, $2, $3) RETURNING number`, p.ID, p.Builder, p.Time).Scan(&p.Number)
	if err != nil {
		return fmt.Errorf("build pallet: %w", err)
	}
	if p.SSCC, err = lots.PalletCode(prefix, p.Number); err != nil {
		return err //nolint:wrapcheck // says which prefix
	}
	b := &pgx.Batch{}
	if p.SSCC != "" {
		b.Queue(`INSERT INTO pallet_code (pallet, sscc) VALUES ($1, $2)`, p.ID, p.SSCC)
	}
	for n, l := range p.Lines {
		b.Queue(`INSERT INTO pallet_line (pallet_line, pallet, line, pack_lot, jars) VALUES ($1, $2, $3, $4, $5)`, l.ID, p.ID, n+1, l.Lot, l.Jars)
	}
	return wrap("build pallet", q.SendBatch(ctx, b).Close())
}

const palletColumns = `
SELECT p.pallet, p.number, coalesce(c.sscc, ''), p.builder, p.build_time, coalesce(s.shipment, '00000000-0000-0000-0000-000000000000'), coalesce(s.customer, ''),
       EXISTS (SELECT FROM customer_return b WHERE b.pallet = p.pallet), coalesce(e.breaker, ''), coalesce(e.reason, ''),
       ARRAY(SELECT x.pallet_line FROM pallet_line x WHERE x.pallet = p.pallet ORDER BY x.line),
       ARRAY(SELECT x.pack_lot FROM pallet_line x WHERE x.pallet = p.pallet ORDER BY x.line),
       ARRAY(SELECT r.code FROM pallet_line x JOIN pack_lot r USING (pack_lot) WHERE x.pallet = p.pallet ORDER BY x.line),
       ARRAY(SELECT x.jars FROM pallet_line x WHERE x.pallet = p.pallet ORDER BY x.line),
       ARRAY(SELECT l.gtin FROM pallet_line x JOIN pack_lot r USING (pack_lot) JOIN label l USING (label) WHERE x.pallet = p.pallet ORDER BY x.line),
       ARRAY(SELECT coalesce(to_char(r.best_by, 'YYYY-MM-DD'), '') FROM pallet_line x JOIN pack_lot r USING (pack_lot) WHERE x.pallet = p.pallet ORDER BY x.line)
FROM pallet p LEFT JOIN pallet_code c USING (pallet) LEFT JOIN pallet_break e USING (pallet)
LEFT JOIN (SELECT sp.pallet, sp.shipment, sh.customer FROM shipment_pallet sp JOIN shipment sh USING (shipment)) s USING (pallet)`

func scanPallet(row pgx.CollectableRow) (lots.Pallet, error) {
	var p lots.Pallet
	var ids, lot []uuid.UUID
	var codes, gtins, days []string
	var jars []int64
	err := row.Scan(&p.ID, &p.Number, &p.SSCC, &p.Builder, &p.Time, &p.Shipment, &p.Customer, &p.Returned, &p.Breaker, &p.Why, &ids, &lot, &codes, &jars, &gtins, &days)
	p.Time = utc(p.Time)
	for n := range ids {
		p.Lines = append(p.Lines, lots.PalletLine{ID: ids[n], Lot: lot[n], Code: codes[n], Jars: jars[n], GTIN: gtins[n], BestBy: days[n]})
	}
	return p, err
}

// Pallet reads one by its id or its code.
func (Store) Pallet(ctx context.Context, q pg.Querier, idOrCode string) (lots.Pallet, error) {
	only, key := ` WHERE c.sscc = $1`, any(idOrCode)
	if id, err := uuid.Parse(idOrCode); err == nil {
		only, key = ` WHERE p.pallet = $1`, id
	}
	rows, err := q.Query(ctx, palletColumns+only, key)
	if err != nil {
		return lots.Pallet{}, fmt.Errorf("read pallet: %w", err)
	}
	p, err := pgx.CollectExactlyOneRow(rows, scanPallet)
	return p, found(err, "pallets/"+idOrCode, "read pallet")
}

const inHouse = `NOT EXISTS (SELECT FROM pallet_break b WHERE b.pallet = p.pallet) AND NOT EXISTS (SELECT FROM shipment_pallet b WHERE b.pallet = p.pallet)`

// Pallets lists them, newest first.
func (Store) Pallets(ctx context.Context, q pg.Querier, f app.PalletFilter, before int64, limit int) ([]lots.Pallet, error) {
	var w where
	w.add("p.number < %s", before)
	if f.Lot != uuid.Nil {
		w.add("EXISTS (SELECT FROM pallet_line x WHERE x.pallet = p.pallet AND x.pack_lot = %s)", f.Lot)
	}
	if f.InHouse {
		w.add(inHouse)
	}
	rows, err := q.Query(ctx, palletColumns+w.sql()+" ORDER BY p.number DESC LIMIT "+w.arg(limit), w.args...)
	if err != nil {
		return nil, fmt.Errorf("list pallets: %w", err)
	}
	pallets, err := pgx.CollectRows(rows, scanPallet)
	return pallets, wrap("list pallets", err)
}

// BreakPallet records that one was taken apart.
func (Store) BreakPallet(ctx context.Context, q pg.Querier, p lots.Pallet, b stock.Release) error {
	_, err := q.Exec(ctx, `INSERT INTO pallet_break (pallet, breaker, reason, break_time) VALUES ($1, $2, $3, $4)`, p.ID, b.Releaser, b.Reason, b.Time)
	return wrap("take pallet apart", err)
}

// Stacked counts jars of a lot on pallets in the house.
func (Store) Stacked(ctx context.Context, q pg.Querier, run uuid.UUID) (n int64, err error) {
	err = q.QueryRow(ctx, `SELECT coalesce(sum(x.jars), 0)::bigint FROM pallet_line x JOIN pallet p USING (pallet) WHERE x.pack_lot = $1 AND `+inHouse, run).Scan(&n)
	return n, wrap("count jars on pallets", err)
}
