package lots

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// WriteOff is honey that was looked for and not found, and that somebody asks to write off. Nothing is moved and nothing is kept from
// being moved until it is approved: honey that turns up is used, and is then no longer there to be written off.
type WriteOff struct {
	ID     uuid.UUID
	Number int64
	Place  Place
	// Mass is what is asked for; of jars what they weighed by their lot when it was asked.
	Mass quantity.Mass
	Jars int64 // 0 for a mass
	// Held is what the place held when it was asked, Holds what it holds.
	Held, Holds   quantity.Mass
	Reason, Asker string
	Time          time.Time
	Decided       *Verdict // nil while it waits
}

// Verdict is how a request ended: the office decided, or it was taken back.
type Verdict struct {
	Reason, Decider string
	Time            time.Time
	// Withdrawn is whether it was taken back; Decider is then who did that.
	Withdrawn bool
	// Transfer booked the loss of Mass; zero where it was declined.
	Transfer uuid.UUID
	Mass     quantity.Mass
}

// Approved tells whether the honey was written off.
func (v Verdict) Approved() bool { return v.Transfer != uuid.Nil }

// Name is the resource name, "writeOffs/{uuid}".
func (o WriteOff) Name() string { return "writeOffs/" + o.ID.String() }

// State is how far it has come.
func (o WriteOff) State() string {
	switch {
	case o.Decided == nil:
		return "WAITING"
	case o.Decided.Approved():
		return "APPROVED"
	case o.Decided.Withdrawn:
		return "WITHDRAWN"
	default:
		return "DECLINED"
	}
}

// Waiting is what is asked for at a place and not decided.
type Waiting struct {
	Mass quantity.Mass
	Jars int64
}

// Ask fails where more would be asked for, with what waits, than there is: the same honey is not missing twice. Jars are counted against
// the loose ones, everything else is weighed. Refusals give weights in unit and call the place as people do.
func (o WriteOff) Ask(w Waiting, loose int64, called string, unit quantity.Unit) error {
	e := &AskedError{Place: o.Place, Called: called}
	if o.Jars > 0 {
		e.Has, e.Waiting, e.Over = Amount{Jars: loose}, Amount{Jars: w.Jars}, Amount{Jars: o.Jars - (loose - w.Jars)}
	} else {
		over := o.Mass - (o.Held - w.Mass)
		e.Has, e.Waiting, e.Over = Amount{Mass: o.Held, Unit: unit}, Amount{Mass: w.Mass, Unit: unit}, Amount{Mass: over, Unit: unit}
	}
	if e.Over.Jars > 0 || e.Over.Mass > 0 {
		return e
	}
	return nil
}

// MayDecide fails for one that is decided, for who asked for it, and for who is a member with honey in it.
func (o WriteOff) MayDecide(decider string, interested bool) error {
	switch {
	case o.Decided != nil:
		return &DecidedError{WriteOff: o}
	case decider == o.Asker:
		return &AskerError{Asker: o.Asker}
	case interested:
		return &InterestedError{WriteOff: o}
	default:
		return nil
	}
}

// MayWithdraw fails for one that is decided, and for who neither asked for it nor is of the office: who asked may be off when the honey
// turns up, and a colleague on the floor is not to make it look found. Nor is who has honey in it and did not ask.
func (o WriteOff) MayWithdraw(actor string, office, interested bool) error {
	switch {
	case o.Decided != nil:
		return &DecidedError{WriteOff: o}
	case actor == o.Asker:
		return nil
	case !office:
		return &NotAskerError{WriteOff: o}
	case interested:
		return &InterestedError{WriteOff: o}
	default:
		return nil
	}
}

// StillMissing fails where less is there than was asked for, in jars or by weight. Refusals give weights in unit and call the place as
// people do.
func (o WriteOff) StillMissing(holds quantity.Mass, loose int64, called string, unit quantity.Unit) error {
	switch {
	case o.Jars > loose && o.Jars > 0:
		return &FoundError{WriteOff: o, Called: called, Has: Amount{Jars: loose}, Asked: Amount{Jars: o.Jars}}
	case o.Jars == 0 && o.Mass > holds:
		return &FoundError{WriteOff: o, Called: called, Has: Amount{Mass: holds, Unit: unit}, Asked: Amount{Mass: o.Mass, Unit: unit}}
	default:
		return nil
	}
}

// Booking is the reason the loss is booked for: the ledger has who approved it as the actor, and here who asked and why.
func (o WriteOff) Booking() string { return fmt.Sprintf("%s asked: %s", o.Asker, o.Reason) }

// BookedAlone fails for what one person may not book as lost.
func BookedAlone(way string) error {
	if way == Unexplained {
		return &AloneError{}
	}
	return nil
}

// AloneError means that honey that was not found was to be written off by one person.
type AloneError struct{}

// Error says what to do.
func (*AloneError) Error() string {
	return "honey that was looked for and not found is not written off by one person: ask for it to be written off, and the office decides"
}

// Reason is the wire reason.
func (*AloneError) Reason() string { return "FIELD_INVALID" }

// Metadata names the field.
func (e *AloneError) Metadata() map[string]string { return map[string]string{"field": e.Field()} }

// Field is the code of the loss.
func (*AloneError) Field() string { return "code" }

// AskedError means that with what waits more would be asked for than there is.
type AskedError struct {
	Place              Place
	Called             string
	Has, Waiting, Over Amount
}

// Error gives the numbers.
func (e *AskedError) Error() string {
	already := ""
	if !e.Waiting.none() {
		already = fmt.Sprintf(", of which %s are asked to be written off already and not decided", e.Waiting.Say())
	}
	return fmt.Sprintf("%s holds %s by the books%s: %s too much is asked for", orName(e.Called, e.Place), loose(e.Has), already, e.Over.Say())
}

// Reason is the wire reason.
func (e *AskedError) Reason() string { return "TOTAL_DISAGREES" }

// Metadata repeats the difference.
func (e *AskedError) Metadata() map[string]string {
	m := map[string]string{"resource": string(e.Place), "difference": e.Over.Number()}
	if !e.Waiting.none() {
		m["asked"] = e.Waiting.Number()
	}
	return m
}

// loose says of jars that those on pallets are not among them.
func loose(a Amount) string {
	if a.Unit == "" {
		return quantity.Count(a.Jars, "loose jar")
	}
	return a.Say()
}

// AskerError means that who asked tried to decide.
type AskerError struct{ Asker string }

// Error names who asked.
func (e *AskerError) Error() string {
	return e.Asker + " asked for this honey to be written off: another person of the office must decide"
}

// Reason is the wire reason.
func (e *AskerError) Reason() string { return "SAME_PERSON" }

// Metadata names who asked.
func (e *AskerError) Metadata() map[string]string { return map[string]string{"first": e.Asker} }

// NotAskerError means that somebody of the floor tried to take back what another person asked for.
type NotAskerError struct{ WriteOff WriteOff }

// Error says who may.
func (e *NotAskerError) Error() string {
	return e.WriteOff.Asker + " asked for this honey to be written off: only who asked takes it back, or the office; tell the office where it stands"
}

// Reason is the wire reason.
func (*NotAskerError) Reason() string { return "NOT_ALLOWED" }

// Metadata names the request and who asked.
func (e *NotAskerError) Metadata() map[string]string {
	return map[string]string{"resource": e.WriteOff.Name(), "first": e.WriteOff.Asker}
}

// InterestedError means that a member whose honey is in what is asked to be written off tried to decide, or to take back what another asked for.
type InterestedError struct{ WriteOff WriteOff }

// Error says whose it is.
func (*InterestedError) Error() string {
	return "your own honey is in what is asked to be written off: another person of the office must decide"
}

// Reason is the wire reason.
func (*InterestedError) Reason() string { return "STATE_FORBIDS" }

// Metadata names the request.
func (e *InterestedError) Metadata() map[string]string {
	return map[string]string{"resource": e.WriteOff.Name(), "state": "INTERESTED"}
}

// DecidedError means that the request was decided or withdrawn before.
type DecidedError struct{ WriteOff WriteOff }

// Error says how, by whom and when.
func (e *DecidedError) Error() string {
	did := map[string]string{"APPROVED": "approved", "DECLINED": "declined", "WITHDRAWN": "withdrawn"}[e.WriteOff.State()]
	return fmt.Sprintf("this request was %s by %s at %s already", did, e.WriteOff.Decided.Decider, e.WriteOff.Decided.Time.UTC().Format("2006-01-02 15:04 UTC"))
}

// Reason is the wire reason.
func (e *DecidedError) Reason() string { return "STATE_FORBIDS" }

// Metadata names it.
func (e *DecidedError) Metadata() map[string]string {
	return map[string]string{"resource": e.WriteOff.Name(), "state": e.WriteOff.State()}
}

// FoundError means that less is there than was asked to be written off: some of it was found and used since.
type FoundError struct {
	WriteOff   WriteOff
	Called     string
	Has, Asked Amount
}

// Error says what can be done.
func (e *FoundError) Error() string {
	return fmt.Sprintf("%s holds %s by the books now, and %s were asked to be written off: decline it, and let what is still missing be asked for anew",
		orName(e.Called, e.WriteOff.Place), loose(e.Has), e.Asked.Say())
}

// Reason is the wire reason.
func (e *FoundError) Reason() string { return "TOTAL_DISAGREES" }

// Metadata repeats the numbers.
func (e *FoundError) Metadata() map[string]string {
	over := Amount{Jars: e.Asked.Jars - e.Has.Jars, Mass: e.Asked.Mass - e.Has.Mass, Unit: e.Asked.Unit}
	return map[string]string{"resource": string(e.WriteOff.Place), "difference": over.Number()}
}
