// Package pool solves the closing of a pool: the base price at which its honey is worth exactly what there is to
// distribute, the declared prices, what each barrel and member comes to, and what is left over.
//
// It follows the common practice of marketing pools (USDA Rural Business, Cooperative Pooling Operations, Research Report
// 168): a member's share is its volume adjusted by quality. A closing is a pure function of its input, and the order of the
// input does not matter.
package pool

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// Rules names the rules a closing follows. It is part of the fingerprint, so that a change of them is a change of input.
const Rules = "pool closing 1"

// Class is a kind of honey and what it is worth more or less than the base.
type Class struct {
	Variety      string         `json:"variety"`
	ColorClass   string         `json:"color_class"`
	Grade        string         `json:"grade"`
	Differential quantity.Price `json:"differential"`
}

// Owner is one member's part of a barrel.
type Owner struct {
	Member string `json:"member"`
	// Place stands for the member, from 1: where two owners have one place, they are one member. It spares looking up a name
	// for each barrel; 0 says nothing.
	Place int `json:"-"`
	// Weight is the part in any unit, e.g. 60 and 40.
	Weight int64 `json:"weight"`
	// Credited is what earlier payouts of the barrel have credited this member, before charges.
	Credited quantity.Money `json:"credited"`
	// Advance is this owner's own payout, where the barrel has several owners.
	Advance uuid.UUID `json:"advance,omitzero"`
}

// Barrel is one priced barrel.
type Barrel struct {
	Barrel uuid.UUID `json:"barrel"`
	// Advance is the payout that stands for it; of a shared barrel, that of its first owner.
	Advance uuid.UUID `json:"advance"`
	// Class is the index of its class in the input.
	Class   int           `json:"class"`
	Payable quantity.Mass `json:"payable"`
	// Step is what comes off for water besides the weight: zero or negative. The pool keeps it.
	Step   quantity.Money `json:"step"`
	Owners []Owner        `json:"owners"`
}

// Entry is one amount on the pool's account, negative for an expense.
type Entry struct {
	Entry  uuid.UUID      `json:"entry"`
	Amount quantity.Money `json:"amount"`
}

// Input is everything a closing depends on.
type Input struct {
	Rules   string    `json:"rules"`
	Pool    uuid.UUID `json:"pool"`
	Classes []Class   `json:"classes"`
	Entries []Entry   `json:"entries"`
	Barrels []Barrel  `json:"barrels"`
	// LeftOut counts barrels of the pool without an advance. A closing says so, and changes when one is priced.
	LeftOut int `json:"left_out"`
}

// Head is an input without its barrels, which may be a million: they are kept and calculated one after the other.
type Head struct {
	Rules   string    `json:"rules"`
	Pool    uuid.UUID `json:"pool"`
	Classes []Class   `json:"classes"`
	Entries []Entry   `json:"entries"`
	LeftOut int       `json:"left_out"`
}

// Head is what the input says besides its barrels.
func (in Input) Head() Head {
	return Head{Rules: in.Rules, Pool: in.Pool, Classes: in.Classes, Entries: in.Entries, LeftOut: in.LeftOut}
}

// With is the input of these barrels.
func (h Head) With(barrels []Barrel) Input {
	return Input{Rules: h.Rules, Pool: h.Pool, Classes: h.Classes, Entries: h.Entries, Barrels: barrels, LeftOut: h.LeftOut}
}

// Canonical is the same head in the one order that is fingerprinted; the classes of barrels count in this order.
func (h Head) Canonical() Head { return h.With(nil).Canonical().Head() }

// Canonical is the same input in the one order that is fingerprinted and calculated.
func (in Input) Canonical() Input {
	out := in
	out.Rules = Rules
	order := make([]int, len(in.Classes))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return compareClasses(in.Classes[a], in.Classes[b]) })
	place := make([]int, len(order))
	out.Classes = make([]Class, len(order))
	for to, from := range order {
		place[from], out.Classes[to] = to, in.Classes[from]
	}
	out.Entries = slices.Clone(in.Entries)
	slices.SortFunc(out.Entries, func(a, b Entry) int { return bytes.Compare(a.Entry[:], b.Entry[:]) })
	out.Barrels = slices.Clone(in.Barrels)
	for i := range out.Barrels {
		b := &out.Barrels[i]
		b.Class = place[b.Class]
		if len(b.Owners) == 1 {
			continue
		}
		b.Owners = slices.Clone(b.Owners)
		slices.SortFunc(b.Owners, func(x, y Owner) int { return cmp.Compare(x.Member, y.Member) })
	}
	slices.SortFunc(out.Barrels, func(a, b Barrel) int { return bytes.Compare(a.Barrel[:], b.Barrel[:]) })
	return out
}

func compareClasses(a, b Class) int {
	return cmp.Or(cmp.Compare(a.Variety, b.Variety), cmp.Compare(a.ColorClass, b.ColorClass), cmp.Compare(a.Grade, b.Grade))
}

// Bytes are the canonical input as it is stored and fingerprinted.
func (in Input) Bytes() ([]byte, error) {
	raw, err := json.Marshal(in.Canonical())
	if err != nil {
		return nil, fmt.Errorf("write the inputs: %w", err)
	}
	return raw, nil
}

// Fingerprint is the SHA-256 of an input written whole, 64 hexadecimal digits; Digest is the same for barrels that come one
// after the other.
func Fingerprint(raw []byte) string {
	sum := sha256.Sum256(raw)
	return hex.EncodeToString(sum[:])
}
