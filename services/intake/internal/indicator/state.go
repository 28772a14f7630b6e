package indicator

import (
	"fmt"
	"time"

	"barrelhead.example/services/kit/quantity"
)

// State is what can be said of a scale from what its indicator sends.
type State string

// The states, told apart because each wants something else done. Only Stable can be captured.
const (
	Stable        State = "STABLE"
	Moving        State = "MOVING"
	Stuck         State = "STUCK"
	OverRange     State = "OVER_RANGE"
	UnderLoad     State = "UNDER_LOAD"
	Disconnected  State = "DISCONNECTED"
	Silent        State = "SILENT"
	Unreadable    State = "UNREADABLE"
	WrongUnit     State = "WRONG_UNIT"
	WrongDivision State = "WRONG_DIVISION"
	Net           State = "NET"
)

// FreshFor is how old the newest line may be for its weight to be captured; our own limit.
const FreshFor = time.Second

// Indication is the newest thing known of a scale.
type Indication struct {
	State State
	// Message says the same for people, and what to do; it continues "scale 2 ".
	Message string
	// Weighed is false when the newest line shows no weight in the cooperative's unit.
	Weighed bool
	Weight  quantity.Mass
	// Raw is the newest line without its terminator; bytes that are not ASCII are written as \xNN.
	Raw string
	// ReceiveTime is when it arrived; zero before the first line.
	ReceiveTime time.Time
	// StableSince is when the weight began to stand still; only when Stable.
	StableSince time.Time
	// MovedTime is when the scale was last seen to move; zero if never since it is read.
	MovedTime time.Time
}

// Limits are those of the scale the indicator belongs to.
type Limits struct {
	Division quantity.Mass
	// Most is the largest weight that may be shown.
	Most quantity.Mass
	Unit quantity.Unit
}

// Within holds an indication to the limits of its scale.
func (i Indication) Within(l Limits) Indication {
	switch {
	case !i.Weighed || (i.State != Stable && i.State != Moving):
		return i
	case i.Weight > l.Most:
		i.State = OverRange
		i.Message = fmt.Sprintf("shows %s, more than it may (%s): take the load off", i.Weight.Say(l.Unit), l.Most.Say(l.Unit))
	case i.State == Stable && i.Weight%l.Division != 0:
		i.State = WrongDivision
		i.Message = fmt.Sprintf("shows %s, which cannot stand on a scale with steps of %s: have the indicator or the division "+
			"of the scale put right", i.Weight.Say(l.Unit), l.Division.Say(l.Unit))
	}
	if i.State != Stable {
		i.StableSince = time.Time{}
	}
	return i
}

// Captured reports whether the weight may be taken at the instant now.
func (i Indication) Captured(now time.Time) bool {
	return i.State == Stable && i.Weighed && i.Weight >= 0 && now.Sub(i.ReceiveTime) < FreshFor
}

// words are the messages that need nothing but the state.
var words = map[State]string{
	Moving:    "is moving: wait until it stands still",
	OverRange: "shows more than it can weigh: take the load off",
	UnderLoad: "shows less than nothing: take everything off and set it to zero",
	Net:       "subtracts a tare of its own: clear the tare on the indicator, the gross weight is wanted",
}

// describe says what a line means by itself.
func describe(r reading, unit quantity.Unit) string {
	switch r.state {
	case Stable:
		return "stands still at " + r.weight.Say(unit)
	case Unreadable:
		return fmt.Sprintf("sent a line that cannot be read: %s", r.why)
	case WrongUnit:
		return fmt.Sprintf("shows %s, and the cooperative weighs in %s: switch the indicator to %s",
			named(r.unit), unit.Word(), unit.Word())
	default:
		return words[r.state]
	}
}

func named(unit string) string {
	if unit == "" {
		return "no unit"
	}
	return unit
}
