package lots

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/quantity"
)

// Return is what a customer sent back of one lot, barrel or charge a shipment carried. It is for sale again only once another person
// than who received it says so.
type Return struct {
	ID       uuid.UUID
	Number   int64
	Shipment uuid.UUID
	Customer string
	// Of is where it had left the house, and Code the code of the lot, if it is one.
	Of   Place
	Code string
	// Pallet is the one it came back on whole; zero for loose jars and bulk honey.
	Pallet uuid.UUID
	// Jars are zero of bulk honey.
	Jars             int64
	Mass             quantity.Mass
	Reason, Receiver string
	Time             time.Time
	// Decisions are in the order they were made.
	Decisions []Decision
}

// Decision is what becomes of honey that came back, or of a part of it.
type Decision struct {
	ID              uuid.UUID
	Outcome         string
	To              Place
	Jars            int64
	Mass            quantity.Mass
	Reason, Decider string
	Time            time.Time
}

// What becomes of honey that came back.
const (
	Restocked = "RESTOCKED"
	Discarded = "DESTROYED"
)

// Place is the return as a place: "returns/{uuid}" is its resource name too.
func (r Return) Place() Place { return Of(Returned, r.ID) }

// Called is what people call it.
func (r Return) Called() string {
	if r.Code == "" {
		return "what " + r.Customer + " sent back"
	}
	return "what " + r.Customer + " sent back of lot " + r.Code
}

// forbids is the refusal of what the state of the return forbids.
func (r Return) forbids(state, action string) error {
	return &stock.StateError{Resource: string(r.Place()), Called: r.Called(), State: state, Action: action}
}

// Waiting is what nobody has decided about yet.
func (r Return) Waiting() (jars int64, mass quantity.Mass) {
	jars, mass = r.Jars, r.Mass
	for _, d := range r.Decisions {
		jars, mass = jars-d.Jars, mass-d.Mass
	}
	return jars, mass
}

// Decide is a decision about some of it, or about all that waits if it names neither jars nor mass. Jars take their share of the weight, and the
// last of them the rest. Refusals give weights in unit.
func (r Return) Decide(d Decision, unit quantity.Unit) (Decision, error) {
	jars, mass := r.Waiting()
	switch {
	case d.Decider == r.Receiver:
		return d, &ReceiverError{Receiver: r.Receiver}
	case mass == 0:
		return d, r.forbids("DECIDED", "decided about again")
	case r.Jars > 0 && d.Mass > 0:
		return d, r.forbids("JARS", "decided about by weight: say how many jars")
	case r.Jars == 0 && d.Jars > 0:
		return d, r.forbids("BULK", "decided about by jars: say how much it weighs")
	case d.Jars > jars:
		return d, &WaitingError{Return: r, Has: Amount{Jars: jars}, Asked: Amount{Jars: d.Jars}}
	case d.Mass > mass:
		return d, &WaitingError{Return: r, Has: Amount{Mass: mass, Unit: unit}, Asked: Amount{Mass: d.Mass, Unit: unit}}
	case r.Jars == 0 && d.Mass == 0, r.Jars > 0 && d.Jars == 0:
		d.Jars, d.Mass = jars, mass
		return d, nil
	case r.Jars == 0:
		return d, nil
	}
	part, err := quantity.MulDiv(int64(mass), d.Jars, jars)
	d.Mass = quantity.Mass(part)
	return d, err
}

// Carried is what a shipment carried of one lot, barrel or charge, and what of that came back before.
type Carried struct {
	Shipment uuid.UUID
	Of       Place
	// Called is what people call that, such as "lot FC26329T103Q", Customer who has it, and Pallet the code of one that comes back whole.
	Called, Customer, Pallet string
	Jars, Back               int64
	Mass, BackMass           quantity.Mass
	Unit                     quantity.Unit
}

// amount is jars, or a weight where none were carried.
func (c Carried) amount(jars int64, mass quantity.Mass) Amount {
	if c.Jars == 0 {
		return Amount{Mass: mass, Unit: c.Unit}
	}
	return Amount{Jars: jars}
}

// out is what the customer still has.
func (c Carried) out() Amount { return c.amount(c.Jars-c.Back, c.Mass-c.BackMass) }

// Accept is the jars and weight of what comes back now, named by jars, or by weight where it left in bulk; naming neither means all
// that is still out. Never more comes back than left.
func (c Carried) Accept(jars int64, mass quantity.Mass) (int64, quantity.Mass, error) {
	out, left := c.Jars-c.Back, c.Mass-c.BackMass
	switch {
	case jars > out:
		return 0, 0, &CarriedError{Carried: c, Asked: c.amount(jars, mass).Say(), Difference: fmt.Sprint(jars - out)}
	case mass > left:
		return 0, 0, &CarriedError{Carried: c, Asked: c.amount(jars, mass).Say(), Difference: (mass - left).String()}
	case left == 0:
		return 0, 0, &CarriedError{Carried: c, Asked: "more", Difference: left.String()}
	case jars == 0 && mass == 0:
		return out, left, nil
	case jars == 0:
		return 0, mass, nil
	}
	part, err := quantity.MulDiv(int64(left), jars, out)
	return jars, quantity.Mass(part), err
}

// Back decides whether a pallet comes back whole from a shipment.
func (p Pallet) Back(shipment uuid.UUID) error {
	if p.State() != "SHIPPED" || p.Shipment != shipment {
		return &PalletBackError{Pallet: p}
	}
	return nil
}

// PalletBackError means that a pallet cannot come back from where it is said to come from.
type PalletBackError struct{ Pallet Pallet }

// Error says where it is.
func (e *PalletBackError) Error() string {
	p := e.Pallet
	return "pallet " + p.Called() + map[string]string{
		"TAKEN_APART": " was taken apart: name the lots of the jars that came back",
		"RETURNED":    " came back already",
		"IN_HOUSE":    " has not left the house",
		"SHIPPED":     " left for " + p.Customer + " with another shipment",
	}[p.State()]
}

// Reason is the wire reason.
func (*PalletBackError) Reason() string { return "STATE_FORBIDS" }

// Metadata names the pallet and where it is.
func (e *PalletBackError) Metadata() map[string]string {
	return map[string]string{"resource": e.Pallet.Name(), "state": e.Pallet.State()}
}

// RestocksTo is where honey that came back goes when it is for sale again: jars into their lot. Honey in bulk goes into a tank, the one named.
func (r Return) RestocksTo(charge uuid.UUID) (Place, error) {
	switch {
	case r.Of.Kind() == Pack && charge == uuid.Nil:
		return r.Of, nil
	case r.Of.Kind() == Pack:
		return "", r.forbids("JARS", "poured into a tank: jars go back into their lot")
	case charge == uuid.Nil:
		return "", &TankMissingError{Return: r}
	default:
		return Of(Charge, charge), nil
	}
}

// Barring is the first of the holds on what a return is made of that reaches a kind of place.
func Barring(holds []stock.Hold, to Kind) *stock.Hold {
	i := slices.IndexFunc(holds, func(h stock.Hold) bool { return h.Reaches(string(to)) })
	if i < 0 {
		return nil
	}
	return &holds[i]
}

// ReceiverError means that who received honey that came back tried to decide about it.
type ReceiverError struct{ Receiver string }

// Error names the receiver.
func (e *ReceiverError) Error() string {
	return fmt.Sprintf("%s received it: another person must decide what becomes of it", e.Receiver)
}

// Reason is the wire reason.
func (e *ReceiverError) Reason() string { return "SAME_PERSON" }

// Metadata names the receiver.
func (e *ReceiverError) Metadata() map[string]string { return map[string]string{"first": e.Receiver} }

// WaitingError means that less waits than is decided about.
type WaitingError struct {
	Return     Return
	Has, Asked Amount
}

// Error gives both numbers.
func (e *WaitingError) Error() string {
	what := "what"
	if e.Return.Code != "" {
		what = "the jars of lot " + e.Return.Code + " that"
	}
	wait := "waits"
	if e.Has.Jars > 1 {
		wait = "wait"
	}
	return fmt.Sprintf("of %s %s sent back, %s %s for a decision: nobody can decide about %s", what, e.Return.Customer, e.Has.Say(), wait, e.Asked.Say())
}

// Reason is the wire reason.
func (e *WaitingError) Reason() string { return "TOTAL_DISAGREES" }

// Metadata repeats the difference.
func (e *WaitingError) Metadata() map[string]string {
	over := Amount{Jars: e.Asked.Jars - e.Has.Jars, Mass: e.Asked.Mass - e.Has.Mass, Unit: e.Asked.Unit}
	return map[string]string{"resource": string(e.Return.Place()), "difference": over.Number()}
}

// CarriedError means that more would come back than is still out.
type CarriedError struct {
	Carried           Carried
	Asked, Difference string
}

// Error says what is still out, of what and with whom.
func (e *CarriedError) Error() string {
	c := e.Carried
	if c.Mass == 0 {
		return fmt.Sprintf("nothing of %s left for %s with this shipment: look at its code again, or at another shipment", c.Called, c.Customer)
	}
	asked := e.Asked
	if c.Pallet != "" {
		asked += " on pallet " + c.Pallet
	}
	return fmt.Sprintf("%s still has %s of %s (%s left with this shipment, %s came back already): %s cannot come back",
		c.Customer, c.out().Say(), c.Called, c.amount(c.Jars, c.Mass).Say(), c.amount(c.Back, c.BackMass).Say(), asked)
}

// Reason is the wire reason.
func (e *CarriedError) Reason() string { return "TOTAL_DISAGREES" }

// Metadata repeats the difference, and what is still out.
func (e *CarriedError) Metadata() map[string]string {
	c := e.Carried
	out := c.out()
	unit := " " + out.Unit.Word()
	if out.Unit == "" {
		unit = strings.TrimPrefix(quantity.Count(out.Jars, "jar"), quantity.Whole(out.Jars))
	}
	return map[string]string{
		"resource": string(Of(Shipment, c.Shipment)), "difference": e.Difference, "out": out.Number() + unit,
	}
}

// TankMissingError means that honey in bulk has nowhere to go.
type TankMissingError struct{ Return Return }

// Error says what to name.
func (e *TankMissingError) Error() string {
	return e.Return.Called() + " came back in bulk: name the charge of the tank it is poured into"
}

// Reason is the wire reason.
func (e *TankMissingError) Reason() string { return "REASON_REQUIRED" }

// Metadata names the field that is asked for.
func (e *TankMissingError) Metadata() map[string]string {
	return map[string]string{"field": e.Field(), "resource": string(e.Return.Place())}
}

// Field is the field that is asked for.
func (e *TankMissingError) Field() string { return "charge" }
