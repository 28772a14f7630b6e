// Package stock is what the warehouse knows of a barrel: what it is, where it stands and what blocks it. It decides who
// may move, hold and release, and knows nothing of databases or networks.
package stock

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// Dock is where a barrel stands until it was moved.
const Dock = "DOCK"

// State is where a barrel stands in its life.
type State string

// The states of a barrel.
const (
	// OnHand is in the house and counted.
	OnHand State = "ON_HAND"
	// Withdrawn is no longer counted: its ticket was voided.
	Withdrawn State = "WITHDRAWN"
	// Emptied has nothing left in it: used, split or lost.
	Emptied State = "EMPTIED"
)

// Grading is what the standing certificate says of a barrel. Moisture and Pfund are nil where the standard judged none.
type Grading struct {
	Certificate string
	Grade       string
	ColorClass  string
	Moisture    *quantity.Percent
	// Pfund is the colour in hundredths of a millimetre on the Pfund scale.
	Pfund *int64
	// HMF is hydroxymethylfurfural in tenths of mg/kg, nil where it was not measured, and HMFRead when it was.
	HMF     *int64
	HMFRead time.Time
}

// Certificate is the grade that stands for a blind sample.
type Certificate struct {
	Sample  string
	Grading Grading
	Issued  time.Time
}

// Item is one barrel of the warehouse.
type Item struct {
	Barrel uuid.UUID
	// Root is the barrel as it was delivered: itself, unless it was filled from another.
	Root uuid.UUID
	// Parent is the barrel it was filled from; zero for one that was delivered.
	Parent uuid.UUID
	Ticket uuid.UUID
	// Member is kept for tracing and never shown to the warehouse.
	Member  string
	DrumTag string
	Net     quantity.Mass
	// Taken is what has left it.
	Taken       quantity.Mass
	Variety     string
	CropYear    int32
	ReceiveDate string
	// Weighed is when it was weighed in; nil where intake told of it before that was noted.
	Weighed  *time.Time
	State    State
	Location string
	// Moves counts the moves so far.
	Moves   int64
	Grading Grading
	// Holds are the open ones, oldest first.
	Holds []Hold
	// Claims are those of the barrel as it was delivered, by name.
	Claims []Claim
}

// Remaining is what is left in it.
func (i Item) Remaining() quantity.Mass { return i.Net - i.Taken }

// Movement is one move of a barrel. Number counts the moves of that barrel from 1.
type Movement struct {
	ID       uuid.UUID
	Barrel   uuid.UUID
	Number   int64
	From, To string
	Mover    string
	Time     time.Time
}

// Name is the resource name, "stock/{barrel uuid}".
func Name(barrel uuid.UUID) string { return "stock/" + barrel.String() }

// ETag changes with everything a reader of the item can see. It is a digest and not a counter because part of an item
// comes from two feeds that know nothing of each other.
func (i Item) ETag() string {
	raw, err := json.Marshal(i)
	if err != nil {
		panic(err) // an Item holds nothing JSON cannot write
	}
	sum := sha256.Sum256(raw)
	return hex.EncodeToString(sum[:8])
}

// Match fails with a *ChangedError unless etag is empty or the item's own.
func (i Item) Match(etag string) error {
	if current := i.ETag(); etag != "" && etag != current {
		return &ChangedError{Resource: Name(i.Barrel), Called: i.Called(), Current: current}
	}
	return nil
}

// Called is what people call it.
func (i Item) Called() string { return "drum " + i.DrumTag }

func (i Item) forbids(state, action string) error {
	return &StateError{Resource: Name(i.Barrel), Called: i.Called(), State: state, Action: action}
}

// Free fails unless the barrel is on hand and nothing holds it: a *StateError or a *HeldError naming the oldest hold.
// action completes the sentence "… cannot be …".
func (i Item) Free(action string) error {
	if i.State != OnHand {
		return i.forbids(string(i.State), action)
	}
	if len(i.Holds) > 0 {
		return &HeldError{What: i.Called(), Hold: i.Holds[0], Action: action}
	}
	return nil
}

// Move is the record of the barrel standing at to from now on.
func (i Item) Move(id uuid.UUID, to, mover string, now time.Time) (Movement, error) {
	if err := i.Free("moved"); err != nil {
		return Movement{}, err
	}
	return Movement{ID: id, Barrel: i.Barrel, Number: i.Moves + 1, From: i.Location, To: to, Mover: mover, Time: now}, nil
}
