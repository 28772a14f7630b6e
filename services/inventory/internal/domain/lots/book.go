package lots

import (
	"fmt"
	"slices"

	"barrelhead.example/services/kit/quantity"
)

// Book is the whole ledger kept in memory for tracing: what a trace needs of it is reached from transfer to transfer instead
// of being searched for, and how each charge and lot is composed is reckoned once, when honey moves. It answers what Follow
// answers on the transfers themselves. It is not safe for use by several at once.
type Book struct {
	places []spot
	index  map[spot]int32
	edges  []edge
	// parts are the spots of each shipment.
	parts map[Place][]int32
	// out and in are the edges of each place, as they came.
	out, in [][]int32
	// first is the first transfer that left the barrel whose honey is in a container of stock; 0 while none did.
	first []int64
	// has is what a place other than a delivered barrel holds; of a delivered barrel, less what left it.
	has []quantity.Mass
	// content is what is in charges, lots and returns; what is in a shipment is reckoned when some of it comes back.
	content map[int32]mixture
	// carried is what went from one of them into another.
	carried map[int32]mixture
	barrels map[int64]int32 // by their first transfer
}

// edge is a transfer by the numbers of its places.
type edge struct {
	number   int64
	mass     quantity.Mass
	from, to int32
	emptied  bool // nothing was left where it came from
}

// NewBook is empty.
func NewBook() *Book {
	return &Book{index: map[spot]int32{}, parts: map[Place][]int32{}, content: map[int32]mixture{}, carried: map[int32]mixture{}, barrels: map[int64]int32{}}
}

// Len is how many transfers it holds.
func (b *Book) Len() int { return len(b.edges) }

func (b *Book) place(p spot) int32 {
	if n, known := b.index[p]; known {
		return n
	}
	n := int32(len(b.places)) //nolint:gosec // memory ends first
	b.index[p] = n
	if p.Kind() == Shipment {
		b.parts[p.Place] = append(b.parts[p.Place], n)
	}
	b.places = append(b.places, p)
	b.out, b.in = append(b.out, nil), append(b.in, nil)
	b.first, b.has = append(b.first, 0), append(b.has, 0)
	return n
}

// spots are those of a place; none of one nothing ever went into or left.
func (b *Book) spots(p Place) []int32 {
	if p.Kind() == Shipment {
		return b.parts[p]
	}
	if n, known := b.index[spot{Place: p}]; known {
		return []int32{n}
	}
	return nil
}

// keeps tells whether what a place is composed of is kept.
func keeps(kind Kind) bool { return kind == Charge || kind == Pack || kind == Returned }

// Add takes in one transfer, of which actor, time and reason do not matter. For each place they must come in the order of their
// numbers; transfers that share no place may come in any. It fails with an *OverdrawnError where the books never agreed.
func (b *Book) Add(t Transfer) error {
	from, to := t.spots()
	e := edge{number: t.Number, mass: t.Mass, from: b.place(from), to: b.place(to)}
	n := int32(len(b.edges)) //nolint:gosec // memory ends first
	taken, err := b.leave(&e, n)
	if err != nil {
		return fmt.Errorf("transfer %d: %w", t.Number, err)
	}
	switch kind := to.Kind(); {
	case kind == Barrel:
		b.first[e.to] = taken[0].origin.first()
	case keeps(kind):
		b.content[e.to] = b.content[e.to].with(taken)
	}
	if to.Kind() != Loss {
		b.has[e.to] += t.Mass
	}
	b.edges = append(b.edges, e)
	b.out[e.from], b.in[e.to] = append(b.out[e.from], n), append(b.in[e.to], n)
	return nil
}

// leave takes what an edge carries from where it begins.
func (b *Book) leave(e *edge, n int32) (mixture, error) {
	from := b.places[e.from]
	b.has[e.from] -= e.mass
	if from.Kind() == Barrel {
		if b.first[e.from] == 0 {
			b.first[e.from] = e.number
			b.barrels[e.number] = e.from
		}
		e.emptied = len(b.in[e.from]) > 0 && b.has[e.from] == 0
		return mixture{{originOf(b.first[e.from]), e.mass}}, nil
	}
	if b.has[e.from] < 0 {
		return nil, &OverdrawnError{Place: from.Place, Has: b.has[e.from] + e.mass, Asked: e.mass}
	}
	content, err := b.holding(e.from, n)
	if err != nil {
		return nil, err
	}
	taken, rest, err := content.take(e.mass)
	if err != nil {
		return nil, err
	}
	e.emptied = len(rest) == 0
	switch {
	case !keeps(from.Kind()):
	case e.emptied:
		delete(b.content, e.from)
	default:
		b.content[e.from] = rest
	}
	if keeps(b.places[e.to].Kind()) {
		b.carried[n] = taken
	}
	return taken, nil
}

// holding is what a place that is no container holds before an edge that is the newest of it.
func (b *Book) holding(n, until int32) (mixture, error) {
	if b.places[n].Kind() == Shipment {
		return b.before(n, until)
	}
	return b.content[n], nil
}

// delivered tells whether a place is a barrel as it was delivered: nothing was ever filled into it.
func (b *Book) delivered(n int32) bool {
	return b.places[n].Kind() == Barrel && len(b.in[n]) == 0
}

// Content is what is in a charge or lot now, to the thousandth, after pending transfers that are not in the book yet, in the
// order of their numbers.
func (b *Book) Content(place Place, pending []Transfer) ([]Part, error) {
	changed, first := map[spot]mixture{}, map[Place]int64{}
	barrels := map[int64]Place{}
	at := func(p spot) (mixture, error) {
		if m, is := changed[p]; is {
			return m, nil
		}
		if n, known := b.index[p]; known {
			return b.holding(n, int32(len(b.edges))) //nolint:gosec // memory ends first
		}
		return nil, nil
	}
	for _, t := range pending {
		from, to := t.spots()
		taken := mixture{{b.origin(t, first, barrels), t.Mass}}
		if from.Kind() != Barrel {
			content, err := at(from)
			if err != nil {
				return nil, err
			}
			if taken, changed[from], err = content.take(t.Mass); err != nil {
				return nil, fmt.Errorf("transfer %d: %w", t.Number, err)
			}
		}
		if to.Kind() == Barrel {
			first[t.To] = taken[0].origin.first()
		}
		content, err := at(to)
		if err != nil {
			return nil, err
		}
		changed[to] = content.with(taken)
	}
	content, err := at(spot{Place: place})
	if err != nil {
		return nil, err
	}
	var out []Part
	for _, s := range content {
		name, isNew := barrels[s.origin.first()]
		if !isNew {
			name = b.places[b.barrels[s.origin.first()]].Place
		}
		out = append(out, Part{name, s.mass})
	}
	slices.SortFunc(out, byPlace)
	return out, nil
}

// origin of what a pending transfer takes from a container of stock.
func (b *Book) origin(t Transfer, first map[Place]int64, barrels map[int64]Place) origin {
	number := first[t.From]
	if n, known := b.index[spot{Place: t.From}]; number == 0 && known {
		number = b.first[n]
	}
	if number == 0 && t.From.Kind() == Barrel {
		number = t.Number
		first[t.From], barrels[number] = number, t.From
	}
	return originOf(number)
}
