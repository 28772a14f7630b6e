package domain

import (
	"strconv"
	"time"

	"barrelhead.example/services/kit/quantity"
)

// MoveKind is what happened to containers.
type MoveKind string

// What may happen to containers.
const (
	GivenOut  MoveKind = "GIVEN_OUT"
	BackFull  MoveKind = "BACK_FULL"
	BackEmpty MoveKind = "BACK_EMPTY"
	Lost      MoveKind = "LOST"
)

// ContainerMove is one line of a member's container account.
type ContainerMove struct {
	ID        int64
	Member    string
	Container Container
	Kind      MoveKind
	Count     int
	Note      string
	Recorder  string
	Time      time.Time
	// Rate is the deposit for each one given out; Deposit what the move charges, or gives back when below zero.
	Rate    quantity.Money
	Deposit quantity.Money
}

// Name is the resource name.
func (m ContainerMove) Name() string {
	return Member{Number: m.Member}.Name() + "/containerMoves/" + strconv.FormatInt(m.ID, 10)
}

// ContainerBalance is what a member has out of one type.
type ContainerBalance struct {
	Container Container
	Moved     map[MoveKind]int64
	// Deposit is what was charged less what was given back.
	Deposit quantity.Money
}

// Out is give-outs less returns. What is lost stays in it: somebody still has to pay for it.
func (b ContainerBalance) Out() int64 {
	return b.Moved[GivenOut] - b.Moved[BackFull] - b.Moved[BackEmpty]
}

// ContainerAccount is what a member has out.
type ContainerAccount struct {
	Member   string
	Balances []ContainerBalance
	// Moves are the newest first.
	Moves []ContainerMove
}

// Deposit is what the member's deposits stand at.
func (a ContainerAccount) Deposit() quantity.Money {
	total := quantity.Money(0)
	for _, b := range a.Balances {
		total += b.Deposit
	}
	return total
}

// Of is the balance of one type.
func (a ContainerAccount) Of(c Container) ContainerBalance {
	for _, b := range a.Balances {
		if b.Container == c {
			return b
		}
	}
	return ContainerBalance{Container: c}
}

// MayMove refuses more to come back, or to be lost, than the member has out.
func (a ContainerAccount) MayMove(m ContainerMove) error {
	if m.Kind == Lost && m.Note == "" {
		return reasonRequired(warning{"note", "containers are said to be lost", nil})
	}
	balance := a.Of(m.Container)
	left := balance.Out() - balance.Moved[Lost]
	if m.Kind == GivenOut || int64(m.Count) <= left {
		return nil
	}
	return outOfRange("count", "1", strconv.FormatInt(left, 10), "members/%s has %s of these out, so %s cannot come back or be lost: "+
		"count again, or record first what was given out", a.Member, quantity.Whole(left), quantity.Whole(int64(m.Count)))
}
