package lots

import (
	"barrelhead.example/services/kit/quantity"
)

// Balance is what went into a run, a charge or a month, and where it went.
type Balance struct {
	// Number orders balances; Name and Title say of what they are.
	Number      int64
	Name, Title string

	// Returned is what customers sent back in a month; SentBack is what they sent back of a run, whose jars count as packed whatever
	// became of them.
	Opening, Received, Returned        quantity.Mass
	SentBack                           quantity.Mass
	PassedOn, Packed, Shipped, Closing quantity.Mass
	// Open is what the books say was left and nobody explained.
	Open quantity.Mass
	// Asked is what of Closing and Open is asked to be written off and not decided.
	Asked  quantity.Mass
	Losses map[string]quantity.Mass
	Limit  quantity.Percent
}

// The most that may be unexplained; common practice, no source.
const (
	LotLimit   quantity.Percent = 50 // of a run or a charge, 0.50 %
	MonthLimit quantity.Percent = 20 // of a month, 0.20 %
)

// Count adds what came into the house, left it, was lost, stayed open or was asked to be written off in a month.
func (b *Balance) Count(kind, code string, mass quantity.Mass) {
	switch kind {
	case "received":
		b.Received += mass
	case "returned":
		b.Returned += mass
	case "shipped":
		b.Shipped += mass
	case "open":
		b.Open += mass
	case "asked":
		b.Asked += mass
	default:
		b.Losses[code] += mass
	}
}

// Close makes what is there at the end of a month by the books.
func (b *Balance) Close() { b.Closing = b.Difference() + b.Closing }

// Difference is what does not add up: zero, or the books are wrong.
func (b Balance) Difference() quantity.Mass {
	d := b.Opening + b.Received + b.Returned - b.PassedOn - b.Packed - b.Shipped - b.Closing - b.Open
	for _, mass := range b.Losses {
		d -= mass
	}
	return d
}

// Unexplained is what nobody found, written off or not.
func (b Balance) Unexplained() quantity.Mass { return b.Open + b.Losses[Unexplained] }

func (b Balance) all() quantity.Mass { return b.Opening + b.Received + b.Returned }

// Share is Unexplained in percent of all there was, half up.
func (b Balance) Share() quantity.Percent {
	return percentOf(max(b.Unexplained(), -b.Unexplained()), b.all())
}

// Over tells whether it is more than may be; the comparison is exact.
func (b Balance) Over() bool {
	unexplained := max(b.Unexplained(), -b.Unexplained())
	limit, err := quantity.MulDiv(int64(b.all()), int64(b.Limit), 1)
	return err == nil && int64(unexplained) > limit/100_00
}

// Yield is what was packed of what was drawn and not poured back; false while the run is open.
func (b Balance) Yield() (quantity.Percent, bool) {
	return percentOf(b.Packed, b.Received-b.PassedOn), b.Packed > 0
}

func percentOf(part, whole quantity.Mass) quantity.Percent {
	if whole <= 0 {
		return 0
	}
	v, err := quantity.MulDiv(int64(part), 100_00, int64(whole))
	if err != nil {
		return 0
	}
	return quantity.Percent(v)
}
