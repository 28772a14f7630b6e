package store

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// pieceLines is how many lines of a run are kept in one row: enough that what a row costs besides is nothing to what it
// holds, few enough that a piece is held in memory easily.
const pieceLines = 1000

const copyPieces = `COPY run_piece (run, piece, ` + pieceArrays + `) FROM STDIN (FORMAT binary)`

// pieceArrays are the columns of a piece with one entry for each line, and pieceTypes the types of their entries.
const pieceArrays = `barrel, part, advance, class, member, share, payable, step, credited, value, odd`

var pieceTypes = [...]uint32{
	pgtype.UUIDOID, pgtype.Int2OID, pgtype.UUIDOID, pgtype.Int2OID, pgtype.TextOID,
	pgtype.Int8OID, pgtype.Int8OID, pgtype.Int8OID, pgtype.Int8OID, pgtype.Int8OID, pgtype.BoolOID,
}

// binaryHeader begins a binary COPY: signature, flags, no extension (PostgreSQL documentation, COPY, file formats).
const binaryHeader = "PGCOPY\n\xff\r\n\x00\x00\x00\x00\x00\x00\x00\x00\x00"

// pieceWriter takes the lines of one run and hands them on piece by piece.
type pieceWriter struct {
	run    uuid.UUID
	to     io.Writer
	piece  uint32
	lines  uint32
	arrays [len(pieceTypes)][]byte
	out    []byte
}

// CopyRunLines saves what fill writes while it is being calculated: one connection reads, this one writes. An error of
// either ends both. The parts written are those of one barrel, and may be used again after.
func (Store) CopyRunLines(ctx context.Context, tx pgx.Tx, run uuid.UUID, fill func(write func(parts []pool.Kept) error) error) error {
	from, to := io.Pipe()
	filled := make(chan error, 1)
	go func() {
		w := &pieceWriter{run: run, to: to, out: []byte(binaryHeader)}
		err := fill(w.write)
		if err == nil {
			err = w.end()
		}
		// The end of the pipe, or why there is none: a COPY that is cut short saves nothing.
		_ = to.CloseWithError(err)
		filled <- err
	}()
	_, err := tx.Conn().PgConn().CopyFrom(ctx, from, copyPieces)
	_ = from.CloseWithError(errors.Join(err, io.ErrClosedPipe)) // wakes a writer nobody reads from any more
	if fault := <-filled; fault != nil && !errors.Is(fault, io.ErrClosedPipe) {
		return fault
	}
	return wrap("save the lines of the run", err)
}

// write adds a barrel's parts.
func (w *pieceWriter) write(parts []pool.Kept) error {
	for i := range parts {
		k, a := &parts[i], &w.arrays
		a[0] = appendField(a[0], k.Barrel[:])
		a[1] = appendSmall(a[1], i)
		a[2] = appendField(a[2], k.Advance[:])
		a[3] = appendSmall(a[3], k.Class)
		a[4] = append(binary.BigEndian.AppendUint32(a[4], uint32(len(k.Member))), k.Member...) //nolint:gosec // a name
		for n, v := range [...]int64{k.Share, int64(k.Payable), int64(k.Step), int64(k.Credited), int64(k.Value)} {
			a[5+n] = binary.BigEndian.AppendUint64(binary.BigEndian.AppendUint32(a[5+n], 8), uint64(v)) //nolint:gosec // 64 bits both
		}
		a[10] = append(binary.BigEndian.AppendUint32(a[10], 1), bit(k.Odd))
		if w.lines++; w.lines == pieceLines {
			if err := w.flush(); err != nil {
				return err
			}
		}
	}
	return nil
}

// flush writes the lines gathered as one row: the run, the number of the piece, and the arrays, each of one dimension and
// without a NULL (PostgreSQL source, array_send).
func (w *pieceWriter) flush() error {
	p := binary.BigEndian.AppendUint16(w.out, uint16(2+len(w.arrays)))
	p = appendField(p, w.run[:])
	p = binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(p, 4), w.piece)
	for i, entries := range w.arrays {
		p = binary.BigEndian.AppendUint32(p, uint32(arrayHeader+len(entries))) //nolint:gosec // some thousand entries
		for _, word := range [...]uint32{1, 0, pieceTypes[i], w.lines, 1} {
			p = binary.BigEndian.AppendUint32(p, word)
		}
		p = append(p, entries...)
		w.arrays[i] = entries[:0]
	}
	w.piece, w.lines = w.piece+1, 0
	_, err := w.to.Write(p)
	w.out = p[:0]
	return err //nolint:wrapcheck // the pipe's own, told apart by its user
}

// end writes what is left and the trailer of a binary COPY, −1 for a number of columns.
func (w *pieceWriter) end() error {
	if w.lines > 0 {
		if err := w.flush(); err != nil {
			return err
		}
	}
	_, err := w.to.Write(append(w.out, 0xff, 0xff))
	return err //nolint:wrapcheck // as above
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

// RunLines hands out a run's lines, barrel by barrel in ascending order. It holds one piece of them.
func (Store) RunLines(ctx context.Context, q pg.Querier, run uuid.UUID, each func(*pool.Kept) error) error {
	rows, err := q.Query(ctx, `SELECT `+pieceArrays+` FROM run_piece WHERE run = $1 ORDER BY piece`, run)
	if err != nil {
		return fmt.Errorf("read the lines of a run: %w", err)
	}
	defer rows.Close()
	known := names{}
	for rows.Next() {
		if err := eachOfPiece(rows.RawValues(), known, each); err != nil {
			return err
		}
	}
	return wrap("read the lines of a run", rows.Err())
}

// eachOfPiece turns the arrays of one piece into lines: the entries at one place, one of each array, are a row like any.
func eachOfPiece(arrays [][]byte, known names, each func(*pool.Kept) error) error {
	lines, err := openArrays(arrays)
	if err != nil {
		return fmt.Errorf("read the lines of a run: %w", err)
	}
	entries := make([][]byte, len(arrays))
	var k pool.Kept
	for range lines {
		for i := range arrays {
			if entries[i], arrays[i], err = cutEntry(arrays[i]); err != nil {
				return fmt.Errorf("read the lines of a run: %w", err)
			}
		}
		if err := readLine(entries, known, &k); err != nil {
			return err
		}
		if err := each(&k); err != nil {
			return err
		}
	}
	return nil
}

// arrayHeader is how many bytes come before the entries: dimensions, flags, type, length, lower bound.
const arrayHeader = 20

var errArray = errors.New("the columns of a piece do not fit together")

// openArrays takes the headers off and gives the length, which is the same for all.
func openArrays(arrays [][]byte) (length uint32, err error) {
	for i, a := range arrays {
		if len(a) < arrayHeader || binary.BigEndian.Uint32(a) != 1 || binary.BigEndian.Uint32(a[4:]) != 0 || binary.BigEndian.Uint32(a[8:]) != pieceTypes[i] {
			return 0, errArray
		}
		if n := binary.BigEndian.Uint32(a[12:]); i == 0 {
			length = n
		} else if n != length {
			return 0, errArray
		}
		arrays[i] = a[arrayHeader:]
	}
	return length, nil
}

func cutEntry(array []byte) (entry, rest []byte, err error) {
	if len(array) < 4 {
		return nil, nil, errArray
	}
	size := int(int32(binary.BigEndian.Uint32(array))) //nolint:gosec // −1 is NULL
	if array = array[4:]; size < 0 || size > len(array) {
		return nil, nil, errArray
	}
	return array[:size], array[size:], nil
}
