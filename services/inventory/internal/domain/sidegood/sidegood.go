// Package sidegood is what hives give beside liquid honey: comb by the piece, chunk honey by the jar, wax by weight. It is never poured
// and needs no moisture, so it has books of its own.
package sidegood

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// Good is one of them.
type Good string

// The goods.
const (
	CombSection Good = "COMB_SECTION"
	CutComb     Good = "CUT_COMB"
	ChunkHoney  Good = "CHUNK_HONEY"
	Beeswax     Good = "BEESWAX"
	Cappings    Good = "CAPPINGS"
)

// Weighed tells whether it is kept by weight; everything else is counted.
func (g Good) Weighed() bool { return g == Beeswax || g == Cappings }

// Say writes a quantity in the unit of the good; unit is what weights are in.
func (g Good) Say(q int64, unit quantity.Unit) string {
	switch {
	case g.Weighed():
		return quantity.Mass(q).Say(unit)
	case g == ChunkHoney:
		return quantity.Count(q, "jar")
	default:
		return quantity.Count(q, "piece")
	}
}

// Word is what people call the good: "comb section".
func (g Good) Word() string { return strings.ToLower(strings.ReplaceAll(string(g), "_", " ")) }

// Move is what happened.
type Move string

// The moves.
const (
	Received Move = "RECEIVED"
	Made     Move = "MADE"
	Sold     Move = "SOLD"
	Used     Move = "USED"
	Lost     Move = "LOST"
)

// Entry is one thing that happened. Quantity is pieces, or thousandths of the cooperative's unit; what left is below zero.
type Entry struct {
	ID                     uuid.UUID
	Number                 int64
	Good                   Good
	Move                   Move
	Quantity               int64
	CropYear               int32
	Member, Customer, Note string
	Recorder               string
	Time                   time.Time
}

// Name is the resource name, "sideEntries/{uuid}".
func (e Entry) Name() string { return "sideEntries/" + e.ID.String() }

// Stock is what there is of one good and crop year.
type Stock struct {
	Good     Good
	CropYear int32
	Quantity int64
}

// Read makes an entry of what was typed, with what is wrong by field.
func Read(good Good, move Move, pieces int64, mass *quantity.Mass) (Entry, map[string]error) {
	e, faults := Entry{Good: good, Move: move, Quantity: pieces}, map[string]error{}
	switch {
	case good.Weighed() && pieces != 0:
		faults["pieces"] = errors.New("is for comb and chunk honey; wax and cappings are weighed")
	case good.Weighed() && mass == nil:
		faults["mass"] = errors.New("is missing: wax and cappings are weighed")
	case !good.Weighed() && mass != nil:
		faults["mass"] = errors.New("is for wax and cappings; comb and chunk honey are counted")
	case !good.Weighed() && pieces == 0:
		faults["pieces"] = errors.New("is missing: comb and chunk honey are counted")
	}
	if mass != nil {
		e.Quantity = int64(*mass)
	}
	if move != Received && move != Made {
		e.Quantity = -e.Quantity
	}
	return e, faults
}

// Parties fails where it is not said who brought it or for whom it left, or said where nobody did.
func (e Entry) Parties() map[string]error {
	faults := map[string]error{}
	if (e.Move == Received) != (e.Member != "") {
		faults["member"] = errors.New("belongs to what was received, and only to it")
	}
	if (e.Move == Sold) != (e.Customer != "") {
		faults["customer"] = errors.New("belongs to what was sold, and only to it")
	}
	return faults
}

// Fits fails with a *ShortError when more leaves than there is; unit is what weights are in.
func (e Entry) Fits(has int64, unit quantity.Unit) error {
	if has+e.Quantity < 0 {
		return &ShortError{Good: e.Good, CropYear: e.CropYear, Has: has, Asked: -e.Quantity, Unit: unit}
	}
	return nil
}

// ShortError means that there is not as much.
type ShortError struct {
	Good       Good
	CropYear   int32
	Has, Asked int64
	Unit       quantity.Unit
}

// Error gives both numbers.
func (e *ShortError) Error() string {
	return fmt.Sprintf("there are %s of %s of crop year %d, not %s", e.Good.Say(e.Has, e.Unit), e.Good.Word(), e.CropYear, e.Good.Say(e.Asked, e.Unit))
}

// Reason is the wire reason.
func (e *ShortError) Reason() string { return "TOTAL_DISAGREES" }

// Metadata repeats the difference.
func (e *ShortError) Metadata() map[string]string {
	return map[string]string{"resource": "sideGoods/" + string(e.Good), "difference": e.number(e.Asked - e.Has)}
}

// number writes a quantity without its unit, for programs.
func (e *ShortError) number(q int64) string {
	if e.Good.Weighed() {
		return quantity.Mass(q).String()
	}
	return strconv.FormatInt(q, 10)
}
