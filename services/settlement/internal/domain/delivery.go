package domain

import (
	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// Weighed is a barrel of a closed ticket with what was on the scale.
type Weighed struct {
	Delivered

	Gross quantity.Mass
	Tare  quantity.Mass
}

// Weights are a barrel's as its ticket says. Gross and Tare are zero where only the net weight is known.
type Weights struct {
	Barrel           uuid.UUID
	Gross, Tare, Net quantity.Mass
}

// Containers are the cooperative's of one type a member has out.
type Containers struct {
	Member string
	// Type is the number of the type, Words what a reader calls it.
	Type                     int
	Words                    string
	GivenOut, CameBack, Lost int64
	Deposit                  quantity.Money
}

// Out is how many the member has.
func (c Containers) Out() int64 { return c.GivenOut - c.CameBack }
