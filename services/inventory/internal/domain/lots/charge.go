package lots

import (
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/quantity"
)

// Filling is one filling of a tank, a blend lot.
type Filling struct {
	ID, Previous  uuid.UUID // Previous is zero for the first of a tank
	Number        int64
	Code          string // what people call it
	Tank          string
	Rules         Rules
	Picks         []uuid.UUID
	Substitutions []Substitution
	Content       quantity.Mass
	// Left is what the books say of the previous charge and nobody has explained.
	Left quantity.Mass
	// Asked is what of Content is asked to be written off and not decided, LeftAsked what of Left is.
	Asked, LeftAsked quantity.Mass
	Closed           bool
	// Current is whether it is the one its tank was filled with last.
	Current bool
	Opener  string
	Time    time.Time
	// Used are the barrels that went in.
	Used []uuid.UUID
	// Holds are the open ones, oldest first.
	Holds []stock.Hold
}

// Substitution is a barrel used in place of a planned one.
type Substitution struct {
	Planned, Used uuid.UUID
	Reason, Actor string
	Time          time.Time
}

// Place is the charge as a place.
func (f Filling) Place() Place { return Of(Charge, f.ID) }

// ChargeCode is what people call the nth charge of a tank in a year: tank, two digits of the year, and the number in at least three digits.
// The two last parts have no dash in them, so that codes of two tanks differ whatever dashes the tanks have in theirs.
func ChargeCode(tank string, day time.Time, n int) string {
	return fmt.Sprintf("%s%03d", ChargeCodes(tank, day), n)
}

// ChargeCodes is how the codes of a tank and year begin.
func ChargeCodes(tank string, day time.Time) string { return tank + day.Format("-06-") }

// Called is what people call it.
func (f Filling) Called() string { return Called(f.Place(), f.Code) }

// Free fails with a *stock.HeldError while the charge is held; action completes "… cannot be …".
func (f Filling) Free(action string) error { return free(f.Called(), f.Holds, action) }

func free(what string, holds []stock.Hold, action string) error {
	if len(holds) == 0 {
		return nil
	}
	return &stock.HeldError{What: what, Hold: holds[0], Action: action}
}

// OpenPicks are the planned barrels neither used nor replaced.
func (f Filling) OpenPicks() []uuid.UUID {
	return slices.DeleteFunc(slices.Clone(f.Picks), func(p uuid.UUID) bool {
		return slices.Contains(f.Used, p) || slices.ContainsFunc(f.Substitutions, func(s Substitution) bool { return s.Planned == p })
	})
}

// Scan decides whether a scanned barrel may go in. One that is on the pick list may, and so may any into a charge without
// a list, and one that was taken before. Everything else is a mismatch, accepted only as the substitution of a planned
// barrel that is still open, with a reason.
func (f Filling) Scan(barrel uuid.UUID, tag string, replaces uuid.UUID, reason, actor string, now time.Time) (*Substitution, error) {
	if f.Closed {
		return nil, &ClosedError{Place: f.Place(), Called: f.Called()}
	}
	substituted := slices.ContainsFunc(f.Substitutions, func(s Substitution) bool { return s.Used == barrel })
	if replaces == uuid.Nil && (len(f.Picks) == 0 || slices.Contains(f.Picks, barrel) || substituted) {
		return nil, nil //nolint:nilnil // nothing to record is the ordinary case
	}
	if replaces == uuid.Nil || reason == "" {
		return nil, &MismatchError{Tag: tag, Open: len(f.OpenPicks())}
	}
	if !slices.Contains(f.OpenPicks(), replaces) {
		return nil, &NotPlannedError{Barrel: replaces, Charge: f.Called()}
	}
	return &Substitution{Planned: replaces, Used: barrel, Reason: reason, Actor: actor, Time: now}, nil
}

// MismatchError means that the scanned barrel is not the planned one.
type MismatchError struct {
	Tag  string
	Open int
}

// Error says what to do.
func (e *MismatchError) Error() string {
	if e.Open == 0 {
		return fmt.Sprintf("drum %s was not planned, and no planned barrel is still to come: scan again, or plan anew", e.Tag)
	}
	return fmt.Sprintf("drum %s was not planned: scan again, or say which of the %d still planned it replaces, and why", e.Tag, e.Open)
}

// Reason is the wire reason.
func (e *MismatchError) Reason() string { return "REASON_REQUIRED" }

// Metadata names the field that is asked for.
func (e *MismatchError) Metadata() map[string]string {
	return map[string]string{"field": "replaces", "drum": e.Tag}
}

// Field is the field that is asked for.
func (e *MismatchError) Field() string { return "replaces" }

// NotPlannedError means that the barrel to be replaced is not open on the pick list.
type NotPlannedError struct {
	Barrel uuid.UUID
	// Charge is what people call the charge, Called what they call the barrel.
	Charge, Called string
}

// Error names it.
func (e *NotPlannedError) Error() string {
	return fmt.Sprintf("%s is not an open pick of %s", orName(e.Called, Of(Barrel, e.Barrel)), e.Charge)
}

// Reason is the wire reason.
func (e *NotPlannedError) Reason() string { return "STATE_FORBIDS" }

// Metadata names both.
func (e *NotPlannedError) Metadata() map[string]string {
	return map[string]string{"resource": string(Of(Barrel, e.Barrel)), "state": "NOT_PICKED"}
}

// InTank fails unless the charge is open and the one in its tank: what goes in or out now cannot be of an earlier one.
func (f Filling) InTank() error {
	switch {
	case f.Closed:
		return &ClosedError{Place: f.Place(), Called: f.Called()}
	case !f.Current:
		return &EarlierError{Place: f.Place(), Called: f.Called(), Tank: f.Tank}
	default:
		return nil
	}
}

// EarlierError means that the tank was filled anew since.
type EarlierError struct {
	Place        Place
	Called, Tank string
}

// Error says what is left to do with it.
func (e *EarlierError) Error() string {
	return fmt.Sprintf("tank %s was filled anew since %s: what is left of it can only be booked as a heel or a loss", e.Tank, orName(e.Called, e.Place))
}

// Reason is the wire reason.
func (e *EarlierError) Reason() string { return "STATE_FORBIDS" }

// Metadata names it.
func (e *EarlierError) Metadata() map[string]string {
	return map[string]string{"resource": string(e.Place), "state": "EARLIER"}
}

// ClosedError means that a lot was reconciled and takes nothing more.
type ClosedError struct {
	Place  Place
	Called string
}

// Error names it.
func (e *ClosedError) Error() string { return orName(e.Called, e.Place) + " is closed" }

// Reason is the wire reason.
func (e *ClosedError) Reason() string { return "STATE_FORBIDS" }

// Metadata names it.
func (e *ClosedError) Metadata() map[string]string {
	return map[string]string{"resource": string(e.Place), "state": "CLOSED"}
}

// Reconcile fails while the books say that something is left, and gives it in unit.
func (f Filling) Reconcile(unit quantity.Unit) error {
	switch {
	case f.Closed:
		return &ClosedError{Place: f.Place(), Called: f.Called()}
	case f.Content != 0:
		return &UnexplainedError{Place: f.Place(), Called: f.Called(), Difference: f.Content, Asked: f.Asked, Unit: unit}
	default:
		return nil
	}
}

// UnexplainedError means that a lot does not add up.
type UnexplainedError struct {
	Place      Place
	Called     string
	Difference quantity.Mass
	// Asked is what is asked to be written off there and waits.
	Asked quantity.Mass
	Unit  quantity.Unit
}

// Error gives the difference.
func (e *UnexplainedError) Error() string {
	off := orName(e.Called, e.Place) + " cannot be reconciled: "
	switch {
	case e.Difference < 0:
		return off + (-e.Difference).Say(e.Unit) + " more came out than went in; count again, or record what else went in"
	case e.Asked > 0:
		return fmt.Sprintf("%s%s is unexplained; %s is asked to be written off, and the office has not decided yet", off, e.Difference.Say(e.Unit), e.Asked.Say(e.Unit))
	default:
		return off + e.Difference.Say(e.Unit) + " is unexplained; book it as a loss, a heel or rework, or ask for it to be written off"
	}
}

// Reason is the wire reason.
func (e *UnexplainedError) Reason() string { return "TOTAL_DISAGREES" }

// Metadata repeats the difference.
func (e *UnexplainedError) Metadata() map[string]string {
	m := map[string]string{"resource": string(e.Place), "difference": e.Difference.String()}
	if e.Asked > 0 {
		m["asked"] = e.Asked.String()
	}
	return m
}
