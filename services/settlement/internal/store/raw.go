package store

import (
	"encoding/binary"
	"fmt"

	"github.com/google/uuid"
)

// rawRow reads the columns of a row from PostgreSQL's binary form, in order. A run reads a million rows, and a general scan of
// each costs more than all the arithmetic on it.
type rawRow struct {
	values [][]byte
	at     int
	err    error
}

func (r *rawRow) next() []byte {
	v := r.values[r.at]
	r.at++
	return v
}

// sized is the next column, which must have so many bytes.
func (r *rawRow) sized(size int) []byte {
	v := r.next()
	if len(v) != size {
		if r.err == nil {
			r.err = fmt.Errorf("column %d has %d bytes and not %d", r.at, len(v), size)
		}
		return make([]byte, size)
	}
	return v
}

func (r *rawRow) id() uuid.UUID { return uuid.UUID(r.sized(16)) }

func (r *rawRow) number() int64 { return int64(binary.BigEndian.Uint64(r.sized(8))) } //nolint:gosec // 64 bits both

func (r *rawRow) small() int { return int(int16(binary.BigEndian.Uint16(r.sized(2)))) } //nolint:gosec // 16 bits both

func (r *rawRow) truth() bool { return r.sized(1)[0] != 0 }

func scanInt[T ~int64](r *rawRow, into *T) { *into = T(r.number()) }

// names keeps one copy of each text: a million barrels belong to some thousand members.
type names map[string]string

func (n names) of(raw []byte) string {
	if known, found := n[string(raw)]; found { // looked up without a copy
		return known
	}
	text := string(raw)
	n[text] = text
	return text
}
