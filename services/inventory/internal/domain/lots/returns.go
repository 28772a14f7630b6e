package lots

import (
	"fmt"
	"slices"
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

// Waiting is what nobody has decided about yet.
func (r Return) Waiting() (jars int64, mass quantity.Mass) {
	jars, mass = r.Jars, r.Mass
	for _, d := range r.Decisions {
		jars, mass = jars-d.Jars, mass-d.Mass
	}
	return jars, mass
}

// Decide is a decision about some of it, or about all that waits if it names neither jars nor mass. Jars take their share of the weight, and the
// last of them the rest.
func (r Return) Decide(d Decision) (Decision, error) {
	jars, mass := r.Waiting()
	switch {
	case d.Decider == r.Receiver:
		return d, &ReceiverError{Receiver: r.Receiver}
	case mass == 0:
		return d, &stock.StateError{Resource: string(r.Place()), State: "DECIDED", Action: "decided about again"}
	case r.Jars > 0 && d.Mass > 0:
		return d, &stock.StateError{Resource: string(r.Place()), State: "JARS", Action: "decided about by weight: say how many jars"}
	case r.Jars == 0 && d.Jars > 0:
		return d, &stock.StateError{Resource: string(r.Place()), State: "BULK", Action: "decided about by jars: say how much it weighs"}
	case d.Jars > jars:
		return d, &WaitingError{Return: r, Has: fmt.Sprintf("%d jars", jars), Asked: fmt.Sprint(d.Jars), Difference: fmt.Sprint(d.Jars - jars)}
	case d.Mass > mass:
		return d, &WaitingError{Return: r, Has: mass.String(), Asked: d.Mass.String(), Difference: (d.Mass - mass).String()}
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
	Shipment       uuid.UUID
	Of             Place
	Jars, Back     int64
	Mass, BackMass quantity.Mass
}

// Accept is the jars and weight of what comes back now, named by jars, or by weight where it left in bulk; naming neither means all
// that is still out. Never more comes back than left.
func (c Carried) Accept(jars int64, mass quantity.Mass) (int64, quantity.Mass, error) {
	out, left := c.Jars-c.Back, c.Mass-c.BackMass
	switch {
	case jars > out:
		return 0, 0, &CarriedError{Carried: c, Asked: fmt.Sprintf("%d jars", jars), Difference: fmt.Sprint(jars - out)}
	case mass > left:
		return 0, 0, &CarriedError{Carried: c, Asked: mass.String(), Difference: (mass - left).String()}
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
	if state := p.State(); state != "SHIPPED" {
		return &stock.StateError{Resource: p.Name(), State: state, Action: "sent back"}
	}
	if p.Shipment != shipment {
		return &stock.StateError{Resource: p.Name(), State: "SHIPPED", Action: "sent back from another shipment than " + string(Of(Shipment, p.Shipment))}
	}
	return nil
}

// RestocksTo is where honey that came back goes when it is for sale again: jars into their lot. Honey in bulk goes into a tank, the one named.
func (r Return) RestocksTo(charge uuid.UUID) (Place, error) {
	switch {
	case r.Of.Kind() == Pack && charge == uuid.Nil:
		return r.Of, nil
	case r.Of.Kind() == Pack:
		return "", &stock.StateError{Resource: string(r.Place()), State: "JARS", Action: "poured into a tank: jars go back into their lot"}
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
	Return                 Return
	Has, Asked, Difference string
}

// Error gives both numbers.
func (e *WaitingError) Error() string {
	return fmt.Sprintf("%s has %s that wait: nobody can decide about %s of them", e.Return.Place(), e.Has, e.Asked)
}

// Reason is the wire reason.
func (e *WaitingError) Reason() string { return "TOTAL_DISAGREES" }

// Metadata repeats the difference.
func (e *WaitingError) Metadata() map[string]string {
	return map[string]string{"resource": string(e.Return.Place()), "difference": e.Difference}
}

// CarriedError means that more would come back than is still out.
type CarriedError struct {
	Carried           Carried
	Asked, Difference string
}

// Error gives the numbers.
func (e *CarriedError) Error() string {
	c := e.Carried
	left, back := c.Mass.String(), c.BackMass.String()
	if c.Jars > 0 {
		left, back = fmt.Sprintf("%d jars", c.Jars), fmt.Sprint(c.Back)
	}
	return fmt.Sprintf("%s carried %s of %s and %s of that came back already: %s cannot come back", Of(Shipment, c.Shipment), left, c.Of, back, e.Asked)
}

// Reason is the wire reason.
func (e *CarriedError) Reason() string { return "TOTAL_DISAGREES" }

// Metadata repeats the difference.
func (e *CarriedError) Metadata() map[string]string {
	return map[string]string{"resource": string(Of(Shipment, e.Carried.Shipment)), "difference": e.Difference}
}

// TankMissingError means that honey in bulk has nowhere to go.
type TankMissingError struct{ Return Return }

// Error says what to name.
func (e *TankMissingError) Error() string {
	return fmt.Sprintf("%s came back in bulk: name the charge of the tank it is poured into", e.Return.Place())
}

// Reason is the wire reason.
func (e *TankMissingError) Reason() string { return "REASON_REQUIRED" }

// Metadata names the field that is asked for.
func (e *TankMissingError) Metadata() map[string]string {
	return map[string]string{"field": e.Field(), "resource": string(e.Return.Place())}
}

// Field is the field that is asked for.
func (e *TankMissingError) Field() string { return "charge" }
