package domain

import (
	"strconv"
	"time"

	"barrelhead.example/services/kit/quantity"
)

// mostDeposit keeps the deposit of ten thousand containers far from overflow: a million in the currency, in minor units.
const mostDeposit = quantity.Money(100_000_000)

// Deposit is what a member leaves for each container of a type, from a date on.
type Deposit struct {
	ID        int64
	Container Container
	Amount    quantity.Money
	// From is the first local date it counts.
	From    string
	Note    string
	Setter  string
	SetTime time.Time
}

// Name is the resource name.
func (d Deposit) Name() string { return "containerDeposits/" + strconv.FormatInt(d.ID, 10) }

// Vet fills in the date and refuses what cannot be.
func (d Deposit) Vet(today string) (Deposit, error) {
	if d.From == "" {
		d.From = today
	}
	switch {
	case d.Amount < 0 || d.Amount > mostDeposit:
		return d, outOfRange("amount", "0.00", mostDeposit.String(), "a deposit of %s cannot be: it is from 0.00 to %s", d.Amount, mostDeposit)
	case !isDate(d.From):
		return d, invalid("effective_date", "%q is not a date such as 2026-09-01", d.From)
	case d.From < today:
		return d, outOfRange("effective_date", today, "", "%s is past: what was handed out by then keeps its deposit", d.From)
	}
	return d, nil
}

// Lot is containers handed out at one deposit.
type Lot struct {
	Count int64
	Rate  quantity.Money
}

// Lots are the hand-outs of one type to one member, oldest first.
type Lots []Lot

// Value is the deposit of count containers after skipping those that came back before: the oldest out are the first back.
func (all Lots) Value(skip, count int64) quantity.Money {
	value := quantity.Money(0)
	for _, lot := range all {
		passed := min(skip, lot.Count)
		taken := min(count, lot.Count-passed)
		value += quantity.Money(taken) * lot.Rate
		skip, count = skip-passed, count-taken
	}
	return value
}

// Charge says what a move does to the deposits of a member: rate is the deposit in force, lots what was handed out before it.
func (b ContainerBalance) Charge(m ContainerMove, rate quantity.Money, lots Lots) ContainerMove {
	switch m.Kind {
	case GivenOut:
		m.Rate, m.Deposit = rate, rate*quantity.Money(m.Count)
	case BackFull, BackEmpty:
		m.Deposit = -lots.Value(b.Moved[BackFull]+b.Moved[BackEmpty], int64(m.Count))
	case Lost: // they stay charged until the office settled them
	}
	return m
}
