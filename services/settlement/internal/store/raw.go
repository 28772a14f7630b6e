package store

import (
	"encoding/binary"
	"fmt"

	"github.com/google/uuid"

	"barrelhead.example/services/settlement/internal/domain/pool"
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

// names keeps one copy of each member's name and gives it a place: a million barrels belong to some thousand members.
type names map[string]named

type named struct {
	text  string
	place int
}

func (n names) of(raw []byte) (text string, place int) {
	known, found := n[string(raw)] // looked up without a copy
	if !found {
		known = named{string(raw), len(n) + 1}
		n[known.text] = known
	}
	return known.text, known.place
}

// kinds keeps one copy of each kind of honey.
type kinds struct {
	known map[string]pool.Kind
	key   []byte
}

// of looks the three texts up at once, which are written with their lengths so that they cannot run into one another.
func (k *kinds) of(variety, color, grade []byte) pool.Kind {
	k.key = binary.AppendUvarint(binary.AppendUvarint(k.key[:0], uint64(len(variety))), uint64(len(color)))
	k.key = append(append(append(k.key, variety...), color...), grade...)
	kind, found := k.known[string(k.key)]
	if !found {
		kind = pool.Kind{Variety: string(variety), ColorClass: string(color), Grade: string(grade)}
		k.known[string(k.key)] = kind
	}
	return kind
}
