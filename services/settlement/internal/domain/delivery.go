package domain

import (
	"strings"

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

// BarrelLabel is what people call a barrel: its drum, who delivered it and its ticket.
type BarrelLabel struct {
	Barrel          uuid.UUID
	DrumTag, Member string
	Ticket          uuid.UUID
	TicketNumber    string
}

// String is "barrel FC-0117 of M-0012, ticket FC-2026-000731".
func (b BarrelLabel) String() string {
	return "barrel " + b.DrumTag + " of " + strings.TrimPrefix(b.Member, "members/") + ", ticket " + b.TicketNumber
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
