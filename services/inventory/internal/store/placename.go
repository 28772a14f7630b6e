package store

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/kit/pg"
)

// PlaceNames reads what people know places by, all at once; places of other kinds and unknown ones are left out.
func (Store) PlaceNames(ctx context.Context, q pg.Querier, places []lots.Place) ([]app.PlaceName, error) {
	ids := map[lots.Kind][]uuid.UUID{}
	for _, p := range places {
		if id, err := uuid.Parse(p.ID()); err == nil {
			ids[p.Kind()] = append(ids[p.Kind()], id)
		}
	}
	rows, err := q.Query(ctx, `
		SELECT place, known_as, best_by FROM (
		    SELECT 'stock/' || b.barrel AS place, b.drum_tag AS known_as, '' AS best_by FROM holding b WHERE b.barrel = ANY($1)
		    UNION ALL SELECT 'charges/' || c.charge, c.code, '' FROM charge c WHERE c.charge = ANY($2)
		    UNION ALL SELECT 'packLots/' || r.pack_lot, r.code, coalesce(to_char(r.best_by, 'YYYY-MM-DD'), '') FROM pack_lot r WHERE r.pack_lot = ANY($3)
		) p ORDER BY place COLLATE "C"`, ids[lots.Barrel], ids[lots.Charge], ids[lots.Pack])
	if err != nil {
		return nil, fmt.Errorf("read names of places: %w", err)
	}
	names, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (app.PlaceName, error) {
		var n app.PlaceName
		err := row.Scan(&n.Place, &n.As, &n.BestBy)
		return n, err
	})
	return names, wrap("read names of places", err)
}
