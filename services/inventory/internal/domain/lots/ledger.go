// Package lots follows honey from barrels through tanks and jars to customers. Honey is never created or destroyed: it
// goes from one place to another, a loss being a place too, and whatever leaves a place is taken to be mixed through, so
// that it carries the barrels in it in the proportions of that moment, exact to the thousandth.
package lots

import (
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// Kind of a place, as in its resource name.
type Kind string

// The kinds of places. Honey never leaves a loss, and a shipment only to come back.
const (
	Barrel   Kind = "stock"
	Charge   Kind = "charges"
	Pack     Kind = "packLots"
	Shipment Kind = "shipments"
	Returned Kind = "returns" // sent back, and waiting for somebody to decide
	Loss     Kind = "losses"
)

// Place is where honey can be, by its resource name, e.g. "charges/…".
type Place string

// At is the place of a kind with an id.
func At(kind Kind, id string) Place { return Place(string(kind) + "/" + id) }

// Of is the place of a kind with a uuid.
func Of(kind Kind, id uuid.UUID) Place { return At(kind, id.String()) }

// Kind of the place.
func (p Place) Kind() Kind {
	kind, _, _ := strings.Cut(string(p), "/")
	return Kind(kind)
}

// ID of the place within its kind.
func (p Place) ID() string {
	_, id, _ := strings.Cut(string(p), "/")
	return id
}

// holds tells whether what is in the place is in the house.
func (p Place) holds() bool {
	kind := p.Kind()
	return kind != Shipment && kind != Loss
}

// Transfer is honey that went from one place to another. Number orders them as they happened.
type Transfer struct {
	ID       uuid.UUID
	Number   int64
	From, To Place
	Mass     quantity.Mass
	Actor    string
	Time     time.Time
	Reason   string
	// Of is, where honey comes back from a shipment, the place it had left for it; empty elsewhere.
	Of Place
}

// spot is a place as honey lies in it. Jars and drums are not mixed by travelling together: within a shipment what left one place stays
// apart from what left another, and comes back as what it was.
type spot struct {
	Place
	of Place // of a shipment: the place it left
}

// spots are where a transfer begins and ends.
func (t Transfer) spots() (from, to spot) {
	from, to = spot{Place: t.From}, spot{Place: t.To}
	if t.From.Kind() == Shipment {
		from.of = t.Of
	}
	if t.To.Kind() == Shipment {
		to.of = t.From
	}
	return from, to
}

// OverdrawnError means that more was to be taken than there is.
type OverdrawnError struct {
	Place Place
	// Called is what people call the place; empty, like Unit, where the ledger itself finds it.
	Called     string
	Has, Asked quantity.Mass
	Unit       quantity.Unit
}

// Error gives the difference that needs an explanation.
func (e *OverdrawnError) Error() string {
	return fmt.Sprintf("%s holds %s by the books and %s cannot be taken from it: %s more is unexplained",
		orName(e.Called, e.Place), e.Has.Say(e.Unit), e.Asked.Say(e.Unit), (e.Asked - e.Has).Say(e.Unit))
}

// Reason is the wire reason.
func (e *OverdrawnError) Reason() string { return "TOTAL_DISAGREES" }

// Metadata repeats the numbers.
func (e *OverdrawnError) Metadata() map[string]string {
	return map[string]string{"resource": string(e.Place), "difference": (e.Asked - e.Has).String()}
}

// origin is whose honey it is: twice the number of the first transfer that left the barrel it was delivered in, plus one if
// it has been in the place asked about. That number tells barrels apart, never changes, and orders them the same wherever the
// ledger is replayed, whole or cut.
type origin int64

func originOf(first int64) origin { return origin(first << 1) }

func (o origin) marked() bool { return o&1 == 1 }

func (o origin) first() int64 { return int64(o >> 1) }

// share is how much there is of one origin.
type share struct {
	origin origin
	mass   quantity.Mass
}

// mixture is how much there is of each origin, none of them nothing, by origin, so that the odd thousandths are shared the
// same in every replay. What is there only in traces below a thousandth is found by following the transfers instead: a tank
// that is never emptied has traces of everything that ever was in it, and carrying them all along would make every trace as
// slow as the house is old.
type mixture []share

func (m mixture) total() quantity.Mass {
	var sum quantity.Mass
	for _, s := range m {
		sum += s.mass
	}
	return sum
}

// take splits a mixture into mass of it, in proportion, and the rest. Barrels share first, then what has been in the place
// asked about shares with what has not, within its barrel: so the asking never changes how much there is of a barrel anywhere.
func (m mixture) take(mass quantity.Mass) (taken, rest mixture, err error) {
	barrels := m.barrels()
	weights := make([]int64, len(barrels))
	for i, s := range barrels {
		weights[i] = int64(s.mass)
	}
	shares, err := quantity.Share(mass, weights)
	if err != nil {
		return nil, nil, fmt.Errorf("share %s: %w", mass, err)
	}
	taken, rest = make(mixture, 0, len(m)), make(mixture, 0, len(m))
	put := func(o origin, has, goes quantity.Mass) {
		if goes != 0 {
			taken = append(taken, share{o, goes})
		}
		if has != goes {
			rest = append(rest, share{o, has - goes})
		}
	}
	for i, b := range barrels {
		if m[0].mass == b.mass {
			put(m[0].origin, b.mass, shares[i])
			m = m[1:]
			continue
		}
		marked, err := inMark(shares[i], m[1].mass, b.mass)
		if err != nil {
			return nil, nil, err
		}
		put(m[0].origin, m[0].mass, shares[i]-marked)
		put(m[1].origin, m[1].mass, marked)
		m = m[2:]
	}
	return taken, rest, nil
}

// inMark is how much of what is taken of one barrel was marked, half up: never more than there was, and never so little that
// the rest was not there.
func inMark(taken, marked, all quantity.Mass) (quantity.Mass, error) {
	part, err := quantity.MulDiv(int64(taken), int64(marked), int64(all))
	if err != nil {
		return 0, fmt.Errorf("share %s of %s: %w", marked, all, err)
	}
	return quantity.Mass(part), nil
}

// barrels is the mixture without marks.
func (m mixture) barrels() mixture {
	out := make(mixture, 0, len(m))
	for _, s := range m {
		if n := len(out); n > 0 && out[n-1].origin == s.origin&^1 {
			out[n-1].mass += s.mass
			continue
		}
		out = append(out, share{s.origin &^ 1, s.mass})
	}
	return out
}

// with is both mixtures together.
func (m mixture) with(o mixture) mixture {
	out := make(mixture, 0, len(m)+len(o))
	for len(m) > 0 && len(o) > 0 {
		switch {
		case m[0].origin < o[0].origin:
			out, m = append(out, m[0]), m[1:]
		case m[0].origin > o[0].origin:
			out, o = append(out, o[0]), o[1:]
		default:
			out = append(out, share{m[0].origin, m[0].mass + o[0].mass})
			m, o = m[1:], o[1:]
		}
	}
	return append(append(out, m...), o...)
}

// marks is the mixture with every origin marked.
func (m mixture) marks() mixture {
	out := make(mixture, 0, len(m))
	for _, s := range m {
		s.origin |= 1
		if n := len(out); n > 0 && out[n-1].origin == s.origin {
			out[n-1].mass += s.mass
			continue
		}
		out = append(out, s)
	}
	return out
}
