// Package page makes and reads the page tokens of list methods (AIP-158). A token holds the key of the last row served,
// so a page starts after that row and not at a count: rows that arrive in between are neither repeated nor skipped.
package page

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"slices"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// Rows in a page when the caller names no number, and the most a page holds.
const (
	DefaultSize = 50
	MaxSize     = 1000
)

// Fault is a page size or page token that cannot be used. Its reason is FIELD_INVALID.
type Fault struct{ field, message string }

// Error is the message for people.
func (f *Fault) Error() string { return f.message }

// Reason is the wire reason.
func (f *Fault) Reason() string { return "FIELD_INVALID" }

// Metadata repeats the field.
func (f *Fault) Metadata() map[string]string { return map[string]string{"field": f.field} }

// Field is "page_size" or "page_token".
func (f *Fault) Field() string { return f.field }

// Size is the number of rows to serve: 50 for zero, and 1000 for anything above it, as AIP-158 asks. A negative number is
// a *Fault.
func Size(req int32) (int, error) {
	switch {
	case req < 0:
		return 0, &Fault{"page_size", fmt.Sprintf("page_size is %d: it must be 0 (for %d) or from 1 to %d", req, DefaultSize, MaxSize)}
	case req == 0:
		return DefaultSize, nil
	case req > MaxSize:
		return MaxSize, nil
	default:
		return int(req), nil
	}
}

type token struct {
	Key   json.RawMessage `json:"k"`
	Query []byte          `json:"q"`
	// Sum covers both. Without it a key changed by hand reaches the database, which answers a year 292277 with a fault of ours.
	Sum []byte `json:"s"`
}

// Encode makes the token of the page that starts after key. Key is what the next SELECT compares with, a struct or a plain
// value of JSON-able fields; query is what the rows were selected by and is usually the request itself, whose page_token
// and page_size do not count. It panics when key or query cannot be JSON, which is a mistake in the calling code.
func Encode(key, query any) string {
	raw, err := json.Marshal(key)
	if err != nil {
		panic(fmt.Errorf("encode page key %T: %w", key, err))
	}
	tok := token{Key: raw, Query: digest(query)}
	tok.Sum = tok.sum()
	whole, err := json.Marshal(tok)
	if err != nil {
		panic(fmt.Errorf("encode page token: %w", err))
	}
	return base64.RawURLEncoding.EncodeToString(whole)
}

// Cut drops the row beyond a page of size rows, which was only read to learn whether there is another page, and makes the
// token of that; it is empty on the last page. key is that of the last row served; see Encode for key and query.
func Cut[T any](rows []T, size int, query any, key func(last T) any) (kept []T, next string) {
	if len(rows) <= size {
		return rows, ""
	}
	return rows[:size], Encode(key(rows[size-1]), query)
}

// Decode reads a token made by Encode into key, a pointer. An empty token is the first page and leaves key alone. A token
// that was damaged, or made for another query, is a *Fault.
func Decode(encoded string, query, key any) error {
	if encoded == "" {
		return nil
	}
	whole, err := base64.RawURLEncoding.DecodeString(encoded)
	if err != nil {
		return damaged()
	}
	var tok token
	if err := json.Unmarshal(whole, &tok); err != nil || !bytes.Equal(tok.Sum, tok.sum()) {
		return damaged()
	}
	if !bytes.Equal(tok.Query, digest(query)) {
		return &Fault{"page_token", "page_token belongs to another query: repeat the filters of the first page, or start again without it"}
	}
	strict := json.NewDecoder(bytes.NewReader(tok.Key))
	strict.DisallowUnknownFields()
	if err := strict.Decode(key); err != nil {
		return damaged()
	}
	return nil
}

func damaged() error {
	return &Fault{"page_token", "page_token cannot be read: use next_page_token as it was returned, or start again without it"}
}

func (t token) sum() []byte {
	sum := sha256.Sum256(slices.Concat(t.Key, []byte{0}, t.Query))
	return sum[:8]
}

// digest is short because it guards against mistakes, not attacks: a forged token reaches no row its caller may not read.
func digest(query any) []byte {
	var raw []byte
	var err error
	if m, ok := query.(proto.Message); ok {
		raw, err = proto.MarshalOptions{Deterministic: true}.Marshal(withoutPaging(m))
	} else {
		raw, err = json.Marshal(query)
	}
	if err != nil {
		panic(fmt.Errorf("encode page query %T: %w", query, err))
	}
	sum := sha256.Sum256(raw)
	return sum[:8]
}

func withoutPaging(m proto.Message) proto.Message {
	c := proto.Clone(m)
	r := c.ProtoReflect()
	for _, name := range []protoreflect.Name{"page_token", "page_size"} {
		if f := r.Descriptor().Fields().ByName(name); f != nil {
			r.Clear(f)
		}
	}
	return c
}
