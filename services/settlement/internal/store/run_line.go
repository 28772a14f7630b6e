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

func eachLine(ctx context.Context, q pg.Querier, sql string, each func(*pool.Kept) error, args ...any) error {
	rows, err := q.Query(ctx, sql, args...)
	if err != nil {
		return fmt.Errorf("read the lines of a run: %w", err)
	}
	defer rows.Close()
	var k pool.Kept
	known := names{}
	for rows.Next() {
		if err := readLine(rows.RawValues(), known, &k); err != nil {
			return err
		}
		if err := each(&k); err != nil {
			return err
		}
	}
	return wrap("read the lines of a run", rows.Err())
}

// ChangedLines hands out the lines of the barrels whose inputs differ between two runs, or that only one of them has: first
// those of one, then those of other.
func (Store) ChangedLines(ctx context.Context, q pg.Querier, one, other uuid.UUID, each func(run uuid.UUID, k *pool.Kept) error) error {
	for _, run := range []uuid.UUID{one, other} {
		err := eachLine(ctx, q, `WITH changed AS (
				SELECT coalesce(x.barrel, y.barrel) AS barrel FROM (SELECT * FROM run_line WHERE run = $1) x
				FULL JOIN (SELECT * FROM run_line WHERE run = $2) y ON y.barrel = x.barrel AND y.part = x.part
				WHERE (x.advance, x.class, x.member, x.share, x.payable, x.step, x.credited)
					IS DISTINCT FROM (y.advance, y.class, y.member, y.share, y.payable, y.step, y.credited))
			SELECT `+pieceArrays+` FROM run_line
			WHERE run = $3 AND barrel IN (SELECT barrel FROM changed) ORDER BY barrel, part`,
			func(k *pool.Kept) error { return each(run, k) }, one, other, run)
		if err != nil {
			return err
		}
	}
	return nil
}

func scanKeptHeap(row pgx.CollectableRow) (h pool.Heap, err error) {
	err = row.Scan(&h.Class, &h.Payable, &h.Barrels, &h.Step)
	return h, err
}

// RunHeaps counts a run's barrels by class and weight.
func (Store) RunHeaps(ctx context.Context, q pg.Querier, run uuid.UUID) ([]pool.Heap, error) {
	return collect(ctx, q, "weigh the run", `SELECT class, payable, count(*), sum(step)::bigint FROM (
			SELECT class, payable, step FROM run_line WHERE run = $1 AND share = 1000000
			UNION ALL SELECT min(class), sum(payable)::bigint, sum(step)::bigint FROM run_line WHERE run = $1 AND share < 1000000 GROUP BY barrel) b
		GROUP BY 1, 2`, scanKeptHeap, run)
}

// RunAdvances are the advances a run makes finals of, in the order the barrels were priced in, which is how members read
// them; the owners of a barrel follow one another by member. owners says how many each barrel has.
func (Store) RunAdvances(ctx context.Context, q pg.Querier, run uuid.UUID) (advances []uuid.UUID, owners []uint8, err error) {
	rows, err := q.Query(ctx, `SELECT advance, part FROM (
			SELECT l.advance, l.part, first_value(p.number) OVER (PARTITION BY l.barrel ORDER BY l.part) AS priced
			FROM run_line l JOIN payout p ON p.payout = l.advance WHERE l.run = $1) o
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
