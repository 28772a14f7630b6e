package store

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// readLine reads one line from the columns of pieceArrays.
func readLine(columns [][]byte, known names, k *pool.Kept) error {
	r := rawRow{values: columns}
	k.Barrel, _, k.Advance, k.Class = r.id(), r.small(), r.id(), r.small()
	k.Member, k.Place = known.of(r.next())
	k.Share = r.number()
	scanInt(&r, &k.Payable)
	scanInt(&r, &k.Step)
	scanInt(&r, &k.Credited)
	scanInt(&r, &k.Value)
	k.Odd = r.truth()
	return wrap("read the lines of a run", r.err)
}

func scanKeptHeap(row pgx.CollectableRow) (h pool.Heap, err error) {
	err = row.Scan(&h.Class, &h.Payable, &h.Barrels, &h.Step)
	return h, err
}

// RunHeaps counts a run's barrels by class and weight.
func (Store) RunHeaps(ctx context.Context, q pg.Querier, run uuid.UUID) ([]pool.Heap, error) {
	return collect(ctx, q, "weigh the run", `SELECT class, payable, sum(barrels)::bigint, sum(step)::bigint FROM (
			SELECT class, coalesce(alone, sum(payable)::bigint) AS payable, CASE WHEN shared IS NULL THEN count(*) ELSE 1 END AS barrels, sum(step) AS step
			FROM (SELECT l.class, l.payable, l.step, CASE WHEN l.share = 1000000 THEN l.payable END AS alone, CASE WHEN l.share < 1000000 THEN l.barrel END AS shared
				FROM run_piece p, unnest(p.barrel, p.class, p.share, p.payable, p.step) AS l (barrel, class, share, payable, step) WHERE p.run = $1) a
			GROUP BY class, alone, shared) b
		GROUP BY 1, 2`, scanKeptHeap, run)
}

// RunAdvances are the advances a run makes finals of, in the order the barrels were priced in, which is how members read
// them; the owners of a barrel follow one another by member. owners says how many each barrel has.
func (Store) RunAdvances(ctx context.Context, q pg.Querier, run uuid.UUID) (advances []uuid.UUID, owners []uint8, err error) {
	rows, err := q.Query(ctx, `SELECT advance, part FROM (
			SELECT l.advance, l.part, first_value(p.number) OVER (PARTITION BY l.barrel ORDER BY l.part) AS priced
			FROM run_piece r, unnest(r.barrel, r.part, r.advance) AS l (barrel, part, advance), payout p
			WHERE r.run = $1 AND p.payout = l.advance) o
		ORDER BY priced, part`, run)
	if err != nil {
		return nil, nil, fmt.Errorf("read the advances of a run: %w", err)
	}
	defer rows.Close()
	for rows.Next() {
		r := rawRow{values: rows.RawValues()}
		advances = append(advances, r.id())
		if r.small() == 0 {
			owners = append(owners, 0)
		}
		if r.err != nil {
			return nil, nil, fmt.Errorf("read the advances of a run: %w", r.err)
		}
		owners[len(owners)-1]++ // part 0 always comes first
	}
	return advances, owners, wrap("read the advances of a run", rows.Err())
}

// InsertRunMembers saves what each member comes to.
func (Store) InsertRunMembers(ctx context.Context, tx pgx.Tx, run uuid.UUID, members []pool.MemberResult) error {
	_, err := tx.CopyFrom(ctx, pgx.Identifier{"run_member"}, []string{"run", "member", "barrels", "payable", "value", "credited", "due", "receivable"},
		pgx.CopyFromSlice(len(members), func(i int) ([]any, error) {
			m := &members[i]
			return []any{[16]byte(run), m.Member, int32(m.Barrels), int64(m.Payable), int64(m.Value), int64(m.Credited), int64(m.Due), int64(m.Receivable)}, nil //nolint:gosec // a count
		}))
	return wrap("save the members of the run", err)
}

func scanRunMember(row pgx.CollectableRow) (m pool.MemberResult, err error) {
	err = row.Scan(&m.Member, &m.Barrels, &m.Payable, &m.Value, &m.Credited, &m.Due, &m.Receivable)
	return m, err
}

// RunMembers are the members of a run after one, in the order of their numbers, whatever the database's own order is; limit
// 0 is no limit.
func (Store) RunMembers(ctx context.Context, q pg.Querier, run uuid.UUID, after string, limit int) ([]pool.MemberResult, error) {
	return collect(ctx, q, "read the members of the run", `SELECT member, barrels, payable, value, credited, due, receivable FROM run_member
		WHERE run = $1 AND member > $2 COLLATE "C" ORDER BY member COLLATE "C" LIMIT nullif($3, 0)`, scanRunMember, run, after, limit)
}

// InRun reports whether a member has honey in a run.
func (Store) InRun(ctx context.Context, q pg.Querier, run uuid.UUID, member string) (bool, error) {
	var found bool
	err := q.QueryRow(ctx, `SELECT EXISTS (SELECT 1 FROM run_member WHERE run = $1 AND member = $2)`, run, member).Scan(&found)
	return found, wrap("look for a member of the run", err)
}
