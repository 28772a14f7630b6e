package pool

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"hash"
	"strconv"
)

// pieceSize is how many bytes are gathered before they are hashed: small pieces cost more than they weigh.
const pieceSize = 1 << 14

// Digest is the fingerprint of an input whose barrels come one after the other. It hashes exactly the bytes Input.Bytes
// would give, so that a run of a million barrels and one held in memory have the same fingerprint.
type Digest struct {
	hash  hash.Hash
	piece []byte
	tail  []byte
	some  bool
}

// NewDigest begins with what comes before the barrels. head must be canonical.
func NewDigest(head Head) (*Digest, error) {
	in := head.With([]Barrel{})
	raw, err := json.Marshal(in)
	if err != nil {
		return nil, fmt.Errorf("write the inputs: %w", err)
	}
	// A quote inside a text is escaped, so this stands nowhere else.
	before, after, found := bytes.Cut(raw, []byte(`"barrels":[]`))
	if !found {
		return nil, fmt.Errorf("the inputs have no place for barrels: %.80s", raw)
	}
	d := &Digest{hash: sha256.New(), piece: make([]byte, 0, pieceSize+1024), tail: append([]byte("]"), after...)}
	d.piece = append(append(d.piece, before...), `"barrels":[`...)
	return d, nil
}

// Add is the next barrel, in canonical order.
func (d *Digest) Add(b *Barrel) error {
	if d.some {
		d.piece = append(d.piece, ',')
	}
	d.some = true
	var err error
	if d.piece, err = b.appendJSON(d.piece); err != nil {
		return err
	}
	if len(d.piece) >= pieceSize {
		d.hash.Write(d.piece)
		d.piece = d.piece[:0]
	}
	return nil
}

// Sum ends the input: 64 hexadecimal digits.
func (d *Digest) Sum() string {
	d.hash.Write(d.piece)
	d.hash.Write(d.tail)
	return hex.EncodeToString(d.hash.Sum(nil))
}

// appendJSON is what encoding/json writes, ten times as fast; a test holds the two together.
func (b *Barrel) appendJSON(to []byte) ([]byte, error) {
	to = appendUUID(append(to, `{"barrel":`...), b.Barrel)
	to = appendUUID(append(to, `,"advance":`...), b.Advance)
	to = strconv.AppendInt(append(to, `,"class":`...), int64(b.Class), 10)
	to = b.Payable.Append(append(to, `,"payable":"`...))
	to = b.Step.Append(append(to, `","step":"`...))
	to = append(to, `","owners":[`...)
	for i := range b.Owners {
		if i > 0 {
			to = append(to, ',')
		}
		var err error
		if to, err = b.Owners[i].appendJSON(to); err != nil {
			return nil, err
		}
	}
	return append(to, `]}`...), nil
}

func (o *Owner) appendJSON(to []byte) ([]byte, error) {
	to = append(to, `{"member":`...)
	if plain(o.Member) {
		to = appendText(to, o.Member)
	} else {
		name, err := json.Marshal(o.Member)
		if err != nil {
			return nil, fmt.Errorf("write the owner %q: %w", o.Member, err)
		}
		to = append(to, name...)
	}
	to = strconv.AppendInt(append(to, `,"weight":`...), o.Weight, 10)
	to = append(o.Credited.Append(append(to, `,"credited":"`...)), '"')
	if o.Advance != [16]byte{} {
		to = appendUUID(append(to, `,"advance":`...), o.Advance)
	}
	return append(to, '}'), nil
}

func appendText(to []byte, s string) []byte { return append(append(append(to, '"'), s...), '"') }

// plain reports that a text needs no escape, as every member's name does not.
func plain(s string) bool {
	for i := range len(s) {
		c := s[i]
		if (c < 'a' || c > 'z') && (c < 'A' || c > 'Z') && (c < '-' || c > '9') && c != '_' {
			return false
		}
	}
	return true
}

func appendUUID(to []byte, id [16]byte) []byte {
	text := [38]byte{0: '"', 9: '-', 14: '-', 19: '-', 24: '-', 37: '"'}
	hex.Encode(text[1:9], id[:4])
	hex.Encode(text[10:14], id[4:6])
	hex.Encode(text[15:19], id[6:8])
	hex.Encode(text[20:24], id[8:10])
	hex.Encode(text[25:37], id[10:])
	return append(to, text[:]...)
}
