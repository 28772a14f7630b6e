package lots

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/checkdigit"
	"barrelhead.example/services/kit/quantity"
)

// Run is a run of jars under one lot code.
type Run struct {
	ID      uuid.UUID
	Number  int64
	Code    string
	Label   string
	Line    string
	Charges []uuid.UUID // in the order of their first draw
	Content quantity.Mass
	Asked   quantity.Mass // what of Content is asked to be written off and not decided
	Starter string
	Time    time.Time
	// BestBy is the day it is best by, "2029-02-28"; empty where its label says nothing.
	BestBy string
	// Jars, OnHand and MeanNet are known once it is closed.
	Closed       bool
	Jars, OnHand int64
	MeanNet      quantity.Mass
	// Holds are the open ones, oldest first.
	Holds []stock.Hold
}

// Place is the lot as a place.
func (r Run) Place() Place { return Of(Pack, r.ID) }

// Called is what people call it.
func (r Run) Called() string { return Called(r.Place(), r.Code) }

// Free fails with a *stock.HeldError while the lot is held; action completes "… cannot be …".
func (r Run) Free(action string) error { return free(r.Called(), r.Holds, action) }

// TankInCode is how the code on the jars names a tank: without dashes.
func TankInCode(tank string) string { return strings.ReplaceAll(tank, "-", "") }

// SameTankError means that jars of two tanks would not be told apart by their codes.
type SameTankError struct{ Tank, Other string }

// Error names the other tank.
func (e *SameTankError) Error() string {
	return fmt.Sprintf("there is a tank %s, and lot codes leave dashes out: jars from a tank %s would look as if they came from it; name the new tank otherwise", e.Other, e.Tank)
}

// Reason is the wire reason.
func (*SameTankError) Reason() string { return "ALREADY_EXISTS" }

// Metadata names the tank that is there.
func (e *SameTankError) Metadata() map[string]string {
	return map[string]string{"resource": "tanks/" + e.Other}
}

// LotCode is the code on the jars: site, two digits of the year, three of the day of the year, the tank without dashes,
// two of the run of that tank and day, and a check character by ISO 7064 MOD 37,36. It says nothing of members. Codes of one tank are
// alike in length, and none is longer than a carrier of GS1 takes.
func LotCode(site, tank string, day time.Time, run int) (string, error) {
	if run > mostRuns {
		return "", &stock.StateError{Resource: "tanks/" + tank, Called: "tank " + tank, State: "USED_UP", Action: fmt.Sprintf("packed in more than %d lots a day", mostRuns)}
	}
	body := fmt.Sprintf("%s%s%03d%s%02d", site, day.Format("06"), day.YearDay(), TankInCode(tank), run)
	check, err := checkdigit.Code(body)
	if err != nil {
		return "", err //nolint:wrapcheck // says which character
	}
	if code := body + check; len(code) > lotLength {
		return "", fmt.Errorf("makes lot codes of %d characters such as %s, %d is the most: give the tank a shorter name", len(code), code, lotLength)
	}
	return body + check, nil
}

const (
	// lotLength is what application identifier 10 takes ("X..20": GS1 syntax dictionary).
	lotLength = 20
	mostRuns  = 99
)

// Draw decides whether honey of a charge may go into the run. A lot that carries two charges doubles what a recall
// reaches, so the second must be confirmed, with a reason, by somebody other than who started the lot.
func (r Run) Draw(charge uuid.UUID, confirmed bool, reason, actor string) error {
	switch {
	case r.Closed:
		return &ClosedError{Place: r.Place(), Called: r.Called()}
	case len(r.Charges) == 0 || slices.Contains(r.Charges, charge):
		return nil
	case !confirmed || reason == "":
		return &FurtherChargeError{Run: r}
	case actor == r.Starter:
		return &StarterError{Starter: r.Starter}
	default:
		return nil
	}
}

// FurtherChargeError means that the tank was changed and the lot was not.
type FurtherChargeError struct{ Run Run }

// Error says what to do.
func (e *FurtherChargeError) Error() string {
	return fmt.Sprintf("lot %s was drawn from another tank charge so far: start a new lot, or let another person than %s confirm that it carries both",
		e.Run.Code, e.Run.Starter)
}

// Reason is the wire reason.
func (e *FurtherChargeError) Reason() string { return "REASON_REQUIRED" }

// Metadata names the field that is asked for.
func (e *FurtherChargeError) Metadata() map[string]string {
	return map[string]string{"field": "confirm_further_charge", "resource": string(e.Run.Place())}
}

// Field is the field that is asked for.
func (e *FurtherChargeError) Field() string { return "confirm_further_charge" }

// StarterError means that who started the lot tried to confirm that it widens.
type StarterError struct{ Starter string }

// Error names the starter.
func (e *StarterError) Error() string {
	return fmt.Sprintf("%s started this lot: another person must confirm a further charge", e.Starter)
}

// Reason is the wire reason.
func (e *StarterError) Reason() string { return "SAME_PERSON" }

// Metadata names the starter.
func (e *StarterError) Metadata() map[string]string { return map[string]string{"first": e.Starter} }

// tenth of the unit, in thousandths: balances are kept to it.
const tenth = 100

// Finish closes the run with jars of a mean net weight: what was drawn, less losses and rework, must be what is in the jars
// to the tenth of the unit, halves of a tenth not included. What they differ by is given in unit.
func (r Run) Finish(jars int64, mean quantity.Mass, unit quantity.Unit) (Run, error) {
	if r.Closed {
		return r, &ClosedError{Place: r.Place(), Called: r.Called()}
	}
	packed, err := quantity.MulDiv(jars, int64(mean), 1)
	if err != nil {
		return r, fmt.Errorf("weight of %d jars: %w", jars, err)
	}
	if difference := r.Content - quantity.Mass(packed); difference >= tenth/2 || difference <= -tenth/2 {
		return r, &UnexplainedError{Place: r.Place(), Called: r.Called(), Difference: difference, Asked: r.Asked, Unit: unit}
	}
	r.Closed, r.Jars, r.OnHand, r.MeanNet = true, jars, jars, mean
	return r, nil
}

// Take is the weight of jars that leave the lot: in proportion, and exactly the rest with the last jar.
func (r Run) Take(jars int64) (quantity.Mass, error) {
	if !r.Closed {
		return 0, &FillingError{Place: r.Place(), Called: r.Called()}
	}
	if jars > r.OnHand {
		return 0, &JarsError{Run: r, Asked: jars}
	}
	mass, err := quantity.MulDiv(int64(r.Content), jars, r.OnHand)
	return quantity.Mass(mass), err
}

// FillingError means that a lot is still being filled.
type FillingError struct {
	Place  Place
	Called string
}

// Error names it.
func (e *FillingError) Error() string {
	return orName(e.Called, e.Place) + " is still being filled: close it first"
}

// Reason is the wire reason.
func (e *FillingError) Reason() string { return "STATE_FORBIDS" }

// Metadata names it.
func (e *FillingError) Metadata() map[string]string {
	return map[string]string{"resource": string(e.Place), "state": "OPEN"}
}

// JarsError means that there are not as many jars.
type JarsError struct {
	Run   Run
	Asked int64
}

// Error gives both numbers.
func (e *JarsError) Error() string {
	return fmt.Sprintf("%s has %s on hand, %s cannot be shipped", e.Run.Called(), quantity.Count(e.Run.OnHand, "jar"), quantity.Whole(e.Asked))
}

// Reason is the wire reason.
func (e *JarsError) Reason() string { return "TOTAL_DISAGREES" }

// Metadata repeats the difference.
func (e *JarsError) Metadata() map[string]string {
	return map[string]string{"resource": string(e.Run.Place()), "difference": fmt.Sprint(e.Asked - e.Run.OnHand)}
}
