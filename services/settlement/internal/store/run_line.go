package store

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// Columns of run_line, in the order they are copied; their number is written before each row.
const (
	copyLines   = `COPY run_line (run, barrel, part, advance, class, member, share, payable, step, credited, value, odd) FROM STDIN (FORMAT binary)`
	lineColumns = 12
	// pieceSize is how much of a COPY is gathered before it is handed on.
	pieceSize = 1 << 16
)

// binaryHeader begins a binary COPY: signature, flags, no extension (PostgreSQL documentation, COPY, file formats).
const binaryHeader = "PGCOPY\n\xff\r\n\x00\x00\x00\x00\x00\x00\x00\x00\x00"

// lineWriter takes the lines of one run.
type lineWriter struct {
	run   uuid.UUID
	piece []byte
	to    io.Writer
}

// CopyRunLines saves what fill writes while it is being calculated: one connection reads, this one writes. An error of
// either ends both. The parts written are those of one barrel, and may be used again after.
func (Store) CopyRunLines(ctx context.Context, tx pgx.Tx, run uuid.UUID, fill func(write func(parts []pool.Kept) error) error) error {
	from, to := io.Pipe()
	filled := make(chan error, 1)
	go func() {
		w := &lineWriter{run: run, to: to, piece: append(make([]byte, 0, pieceSize+512), binaryHeader...)}
		err := fill(w.write)
		if err == nil {
			err = w.end()
		}
		// The end of the pipe, or why there is none: a COPY that is cut short saves nothing.
		_ = to.CloseWithError(err)
		filled <- err
	}()
	_, err := tx.Conn().PgConn().CopyFrom(ctx, from, copyLines)
	_ = from.CloseWithError(errors.Join(err, io.ErrClosedPipe)) // wakes a writer nobody reads from any more
	if fault := <-filled; fault != nil && !errors.Is(fault, io.ErrClosedPipe) {
		return fault
	}
	return wrap("save the lines of the run", err)
}

// write adds a barrel's parts.
func (w *lineWriter) write(parts []pool.Kept) error {
	p := w.piece
	for i := range parts {
		k := &parts[i]
		p = binary.BigEndian.AppendUint16(p, lineColumns)
		p = appendField(p, w.run[:])
		p = appendField(p, k.Barrel[:])
		p = appendSmall(p, i)
		p = appendField(p, k.Advance[:])
		p = appendSmall(p, k.Class)
		p = append(binary.BigEndian.AppendUint32(p, uint32(len(k.Member))), k.Member...) //nolint:gosec // a name
		for _, n := range [...]int64{k.Share, int64(k.Payable), int64(k.Step), int64(k.Credited), int64(k.Value)} {
			p = binary.BigEndian.AppendUint64(binary.BigEndian.AppendUint32(p, 8), uint64(n)) //nolint:gosec // 64 bits both
		}
		p = append(binary.BigEndian.AppendUint32(p, 1), bit(k.Odd))
	}
	w.piece = p
	if len(p) < pieceSize {
		return nil
	}
	return w.flush()
}

func (w *lineWriter) flush() error {
	_, err := w.to.Write(w.piece)
	w.piece = w.piece[:0]
	return err //nolint:wrapcheck // the pipe's own, told apart by its user
}

// end writes the trailer of a binary COPY, −1 for a number of columns.
func (w *lineWriter) end() error {
	w.piece = append(w.piece, 0xff, 0xff)
	return w.flush()
}

func appendField(to, value []byte) []byte {
	return append(binary.BigEndian.AppendUint32(to, uint32(len(value))), value...) //nolint:gosec // 16 bytes
}

func appendSmall(to []byte, n int) []byte {
	return binary.BigEndian.AppendUint16(binary.BigEndian.AppendUint32(to, 2), uint16(n)) //nolint:gosec // a class or an owner
}

func bit(b bool) byte {
	if b {
		return 1
	}
	return 0
}

// RunLines hands out a run's lines, barrel by barrel in ascending order. It holds none of them.
func (Store) RunLines(ctx context.Context, q pg.Querier, run uuid.UUID, each func(*pool.Kept) error) error {
	return eachKept(ctx, q, `SELECT barrel, advance, class, member, share, payable, step, credited, value, odd FROM run_line
		WHERE run = $1 ORDER BY barrel, part`, each, run)
}

func eachKept(ctx context.Context, q pg.Querier, sql string, each func(*pool.Kept) error, args ...any) error {
	rows, err := q.Query(ctx, sql, args...)
	if err != nil {
		return fmt.Errorf("read the lines of a run: %w", err)
	}
	defer rows.Close()
	var k pool.Kept
	known := names{}
	for rows.Next() {
		r := rawRow{values: rows.RawValues()}
		k.Barrel, k.Advance, k.Class, k.Member, k.Share = r.id(), r.id(), r.small(), known.of(r.next()), r.number()
		scanInt(&r, &k.Payable)
		scanInt(&r, &k.Step)
		scanInt(&r, &k.Credited)
		scanInt(&r, &k.Value)
		k.Odd = r.truth()
		if r.err != nil {
			return fmt.Errorf("read the lines of a run: %w", r.err)
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
		err := eachKept(ctx, q, `WITH changed AS (
				SELECT coalesce(x.barrel, y.barrel) AS barrel FROM (SELECT * FROM run_line WHERE run = $1) x
				FULL JOIN (SELECT * FROM run_line WHERE run = $2) y ON y.barrel = x.barrel AND y.part = x.part
				WHERE (x.advance, x.class, x.member, x.share, x.payable, x.step, x.credited)
					IS DISTINCT FROM (y.advance, y.class, y.member, y.share, y.payable, y.step, y.credited))
			SELECT barrel, advance, class, member, share, payable, step, credited, value, odd FROM run_line
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
	rows, err := q.Query(ctx, `SELECT l.advance, l.part FROM run_line l JOIN payout p ON p.payout = l.advance
		JOIN run_line f ON f.run = l.run AND f.barrel = l.barrel AND f.part = 0 JOIN payout o ON o.payout = f.advance
		WHERE l.run = $1 ORDER BY o.number, l.part`, run)
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
			return []any{run, m.Member, int32(m.Barrels), int64(m.Payable), int64(m.Value), int64(m.Credited), int64(m.Due), int64(m.Receivable)}, nil //nolint:gosec // a count
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
