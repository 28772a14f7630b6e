package store

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// harvested is every standing advance a pool closes on: of its crop year ($1) and its sources ($2, or all but $3), without a
// final, and neither its weight nor its certificate in doubt. Doubts are few and looked up in memory; the finals of all years
// are many and joined.
const harvested = ` FROM standing_advance a WHERE crop_year = $1
	AND (cardinality($2::text[]) = 0 OR variety = ANY($2)) AND NOT variety = ANY($3::text[])
	AND barrel NOT IN (SELECT d.barrel FROM intake_doubt d WHERE d.open)
	AND certificate NOT IN (SELECT d.certificate FROM grading_doubt d WHERE d.open)
	AND NOT EXISTS (SELECT 1 FROM standing_final f WHERE f.barrel = a.barrel)`

func scopeArgs(s domain.Scope) []any {
	elsewhere := s.Elsewhere
	if len(s.Varieties) > 0 {
		elsewhere = nil // a pool that names its sources takes them wherever else they are named
	}
	return []any{s.CropYear, append([]string{}, s.Varieties...), append([]string{}, elsewhere...)}
}

// Heap is a pool.Heap before its class is found.
type heapOf struct {
	kind pool.Kind
	heap pool.Heap
}

func scanHeap(row pgx.CollectableRow) (h heapOf, err error) {
	err = row.Scan(&h.kind.Variety, &h.kind.ColorClass, &h.kind.Grade, &h.heap.Payable, &h.heap.Barrels, &h.heap.Step)
	return h, err
}

// HarvestHeaps counts the barrels of a pool by class and weight. A barrel is priced as one: what the owners of a shared one
// have is put together first.
func (Store) HarvestHeaps(ctx context.Context, q pg.Querier, scope domain.Scope, classOf func(pool.Kind) (int, error)) ([]pool.Heap, error) {
	found, err := collect(ctx, q, "weigh the pool", `
		SELECT variety, color_class, grade, payable, sum(barrels)::bigint, sum(step)::bigint FROM (
			SELECT variety, color_class, grade, coalesce(alone, sum(payable)::bigint) AS payable, CASE WHEN shared IS NULL THEN count(*) ELSE 1 END AS barrels, sum(step) AS step
			FROM (SELECT variety, color_class, grade, payable, step, CASE WHEN share = 1000000 THEN payable END AS alone, CASE WHEN share < 1000000 THEN barrel END AS shared`+harvested+`) a
			GROUP BY variety, color_class, grade, alone, shared) b
		GROUP BY 1, 2, 3, 4`, scanHeap, scopeArgs(scope)...)
	if err != nil {
		return nil, err
	}
	heaps := make([]pool.Heap, len(found))
	for i, f := range found {
		heaps[i] = f.heap
		if heaps[i].Class, err = classOf(f.kind); err != nil {
			return nil, err
		}
	}
	return heaps, nil
}

// Harvest hands out every owner's part of the barrels of a pool, barrel by barrel in ascending order. It holds none of them.
func (Store) Harvest(ctx context.Context, q pg.Querier, scope domain.Scope, each func(*pool.Harvested) error) error {
	rows, err := q.Query(ctx, `SELECT barrel, payout, share, member, variety, color_class, grade, payable, step, gross_amount`+harvested+` ORDER BY barrel`, scopeArgs(scope)...)
	if err != nil {
		return fmt.Errorf("read the priced barrels: %w", err)
	}
	defer rows.Close()
	var h pool.Harvested
	members, honey := names{}, kinds{known: map[string]pool.Kind{}}
	for rows.Next() {
		r := rawRow{values: rows.RawValues()}
		h.Barrel, h.Advance, h.Share = r.id(), r.id(), r.number()
		h.Member, h.Place = members.of(r.next())
		h.Kind = honey.of(r.next(), r.next(), r.next())
		scanInt(&r, &h.Payable)
		scanInt(&r, &h.Step)
		scanInt(&r, &h.Credited)
		if r.err != nil {
			return fmt.Errorf("read the priced barrels: %w", r.err)
		}
		if err := each(&h); err != nil {
			return err
		}
	}
	return wrap("read the priced barrels", rows.Err())
}
