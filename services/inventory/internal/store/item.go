// Package store is the SQL of the inventory schema.
package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
)

// Store implements app.Stock. It keeps nothing itself.
type Store struct{}

// Of several samples of one barrel the one certified last counts; the name settles a tie, so that a rebuild cannot
// choose differently.
const standingCertificate = `
SELECT c.* FROM sample s JOIN certificate c USING (sample)
WHERE s.barrel = b.root ORDER BY c.issue_time DESC, c.certificate DESC LIMIT 1`

const openHolds = `
SELECT h.* FROM hold h LEFT JOIN hold_release r USING (hold) WHERE h.barrel = b.barrel AND r.hold IS NULL`

const itemColumns = `
SELECT b.barrel, b.root, coalesce(b.parent, '00000000-0000-0000-0000-000000000000'), b.ticket, b.member, b.drum_tag, b.net,
       coalesce(p.taken, 0), b.variety, b.crop_year, to_char(b.receive_date, 'YYYY-MM-DD'),
       b.withdrawn, coalesce(p.location, '` + stock.Dock + `'), coalesce(p.moves, 0),
       coalesce(c.certificate, ''), coalesce(c.grade, ''), coalesce(c.color_class, ''), c.moisture, c.pfund, c.hmf, c.hmf_time
FROM holding b
LEFT JOIN standing p USING (barrel)
LEFT JOIN LATERAL (` + standingCertificate + `) c ON true`

// Item reads one barrel with its open holds.
func (s Store) Item(ctx context.Context, q pg.Querier, barrel uuid.UUID) (stock.Item, error) {
	items, err := s.items(ctx, q, itemColumns+` WHERE b.barrel = $1`, barrel)
	if err != nil {
		return stock.Item{}, fmt.Errorf("read barrel: %w", err)
	}
	if len(items) == 0 {
		return stock.Item{}, &stock.NotFoundError{Resource: stock.Name(barrel)}
	}
	return items[0], nil
}

// Barrels reads several barrels with their open holds.
func (s Store) Barrels(ctx context.Context, q pg.Querier, barrels []uuid.UUID) ([]stock.Item, error) {
	items, err := s.items(ctx, q, itemColumns+` WHERE b.barrel = ANY($1) ORDER BY b.barrel`, barrels)
	return items, wrap("read barrels", err)
}

// Lock takes the barrel's standing row first and reads afterwards, in another statement, so that what it reads includes
// what the transaction it waited for has done.
func (s Store) Lock(ctx context.Context, q pg.Querier, barrel uuid.UUID) (stock.Item, error) {
	if err := shareFlow(ctx, q); err != nil {
		return stock.Item{}, err
	}
	if err := lockStanding(ctx, q, barrel); err != nil {
		return stock.Item{}, err
	}
	return s.Item(ctx, q, barrel)
}

func lockStanding(ctx context.Context, q pg.Querier, barrel uuid.UUID) error {
	var locked int
	err := q.QueryRow(ctx, `SELECT 1 FROM standing WHERE barrel = $1 FOR UPDATE`, barrel).Scan(&locked)
	if !errors.Is(err, pgx.ErrNoRows) {
		return wrap("lock barrel", err)
	}
	// A barrel never moved has no row yet. Only one that is known gets one, so that asking for a barrel that does not
	// exist leaves nothing behind.
	_, err = q.Exec(ctx, `
		INSERT INTO standing (barrel, location, moves) SELECT barrel, $2, 0 FROM holding WHERE barrel = $1
		ON CONFLICT (barrel) DO UPDATE SET location = standing.location`, barrel, stock.Dock)
	return wrap("lock barrel", err)
}

// Items lists barrels on hand, or those named.
func (s Store) Items(ctx context.Context, q pg.Querier, f app.Filter, after *app.StockKey, limit int) ([]stock.Item, error) {
	var w where
	if len(f.Barrels) > 0 {
		w.add("b.barrel = ANY(%s)", f.Barrels)
	}
	if len(f.DrumTags) > 0 {
		w.add("b.drum_tag = ANY(%s)", f.DrumTags)
	}
	if len(f.Barrels)+len(f.DrumTags) == 0 {
		w.add("NOT b.withdrawn")
		w.add("b.net > coalesce(p.taken, 0)")
	}
	w.equal("b.variety", f.Variety, f.Variety != "")
	w.equal("b.crop_year", f.CropYear, f.CropYear != 0)
	w.equal("c.color_class", f.ColorClass, f.ColorClass != "")
	w.equal("c.grade", f.Grade, f.Grade != "")
	w.equal("coalesce(p.location, '"+stock.Dock+"')", f.Location, f.Location != "")
	if f.HeldOnly {
		w.add("EXISTS (" + openHolds + ")")
	}
	if after != nil {
		w.add("(b.receive_date, b.barrel) > (%s::text::date, %s)", after.ReceiveDate, after.Barrel)
	}
	order := " ORDER BY b.receive_date, b.barrel"
	if limit > 0 {
		order += " LIMIT " + w.arg(limit)
	}
	items, err := s.items(ctx, q, itemColumns+w.sql()+order, w.args...)
	return items, wrap("list stock", err)
}

func (s Store) items(ctx context.Context, q pg.Querier, sql string, args ...any) ([]stock.Item, error) {
	rows, err := q.Query(ctx, sql, args...)
	if err != nil {
		return nil, err
	}
	items, err := pgx.CollectRows(rows, scanItem)
	if err != nil || len(items) == 0 {
		return nil, err
	}
	if err := s.attachClaims(ctx, q, items); err != nil {
		return nil, err
	}
	return items, s.attachHolds(ctx, q, items)
}

func scanItem(row pgx.CollectableRow) (stock.Item, error) {
	var i stock.Item
	var withdrawn bool
	var hmfRead *time.Time
	err := row.Scan(&i.Barrel, &i.Root, &i.Parent, &i.Ticket, &i.Member, &i.DrumTag, &i.Net, &i.Taken, &i.Variety, &i.CropYear, &i.ReceiveDate,
		&withdrawn, &i.Location, &i.Moves, &i.Grading.Certificate, &i.Grading.Grade, &i.Grading.ColorClass,
		&i.Grading.Moisture, &i.Grading.Pfund, &i.Grading.HMF, &hmfRead)
	if hmfRead != nil {
		i.Grading.HMFRead = hmfRead.UTC()
	}
	switch {
	case withdrawn:
		i.State = stock.Withdrawn
	case i.Remaining() <= 0:
		i.State = stock.Emptied
	default:
		i.State = stock.OnHand
	}
	return i, err
}

func (s Store) attachHolds(ctx context.Context, q pg.Querier, items []stock.Item) error {
	at := make(map[uuid.UUID]int, len(items))
	ids := make([]uuid.UUID, len(items))
	for n, i := range items {
		at[i.Barrel], ids[n] = n, i.Barrel
	}
	holds, err := s.holds(ctx, q, holdColumns+`
		WHERE h.barrel = ANY($1) AND r.hold IS NULL ORDER BY h.place_time, h.hold`, ids)
	for _, h := range holds {
		n := at[h.Barrel]
		items[n].Holds = append(items[n].Holds, h)
	}
	return err
}

// Totals adds up what is on hand. Certificates and holds are matched as sets: barrel by barrel takes ten times as long
// on a year's crop.
func (s Store) Totals(ctx context.Context, q pg.Querier) ([]app.Total, error) {
	rows, err := q.Query(ctx, `
		SELECT b.variety, b.crop_year, coalesce(c.color_class, '') color_class, coalesce(c.grade, '') grade,
		       count(*), count(h.barrel), sum(b.net - coalesce(p.taken, 0))::bigint
		FROM holding b
		LEFT JOIN standing p USING (barrel)
		LEFT JOIN (SELECT DISTINCT ON (s.barrel) s.barrel, c.color_class, c.grade
		           FROM sample s JOIN certificate c USING (sample)
		           ORDER BY s.barrel, c.issue_time DESC, c.certificate DESC) c ON c.barrel = b.root
		LEFT JOIN (SELECT DISTINCT h.barrel FROM hold h LEFT JOIN hold_release r USING (hold)
		           WHERE r.hold IS NULL) h ON h.barrel = b.barrel
		WHERE NOT b.withdrawn AND b.net > coalesce(p.taken, 0) GROUP BY 1, 2, 3, 4 ORDER BY 1, 2, 3, 4`)
	if err != nil {
		return nil, fmt.Errorf("total stock: %w", err)
	}
	totals, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (app.Total, error) {
		var t app.Total
		err := row.Scan(&t.Variety, &t.CropYear, &t.ColorClass, &t.Grade, &t.Barrels, &t.Held, &t.Net)
		return t, err
	})
	return totals, wrap("total stock", err)
}

func wrap(operation string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("%s: %w", operation, err)
}

// utc makes equal instants equal values, whatever zone the process runs in: they are part of an etag.
func utc(t time.Time) time.Time { return t.UTC() }

func percent(v *quantity.Percent) *int64 {
	if v == nil {
		return nil
	}
	n := int64(*v)
	return &n
}
