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
	places []Place
	index  map[Place]int32
	edges  []edge
	// out and in are the edges of each place, as they came.
	out, in [][]int32
	// first is the first transfer that left the barrel whose honey is in a container of stock; 0 while none did.
	first []int64
	// has is what a place other than a delivered barrel holds; of a delivered barrel, less what left it.
	has     []quantity.Mass
	content map[int32]mixture
	// carried is what went from one charge or lot into another.
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
	return &Book{index: map[Place]int32{}, content: map[int32]mixture{}, carried: map[int32]mixture{}, barrels: map[int64]int32{}}
}

// Len is how many transfers it holds.
func (b *Book) Len() int { return len(b.edges) }

func (b *Book) place(p Place) int32 {
	if n, known := b.index[p]; known {
		return n
	}
	n := int32(len(b.places)) //nolint:gosec // memory ends first
	b.index[p] = n
	b.places = append(b.places, p)
	b.out, b.in = append(b.out, nil), append(b.in, nil)
	b.first, b.has = append(b.first, 0), append(b.has, 0)
	return n
}

// Add takes in one transfer. For each place they must come in the order of their numbers; transfers that share no place may
// come in any. It fails with an *OverdrawnError where the books never agreed.
func (b *Book) Add(number int64, from, to Place, mass quantity.Mass) error {
	e := edge{number: number, mass: mass, from: b.place(from), to: b.place(to)}
	n := int32(len(b.edges)) //nolint:gosec // memory ends first
	taken, err := b.leave(&e, n)
	if err != nil {
		return fmt.Errorf("transfer %d: %w", number, err)
	}
	switch to.Kind() {
	case Barrel:
		b.first[e.to] = b.first[e.from]
		b.has[e.to] += mass
	case Charge, Pack:
		b.content[e.to] = b.content[e.to].with(taken)
		b.has[e.to] += mass
	case Shipment, Loss:
	}
	b.edges = append(b.edges, e)
	b.out[e.from], b.in[e.to] = append(b.out[e.from], n), append(b.in[e.to], n)
	return nil
}

// leave takes what an edge carries from where it begins.
func (b *Book) leave(e *edge, n int32) (mixture, error) {
	b.has[e.from] -= e.mass
	if b.places[e.from].Kind() == Barrel {
		if b.first[e.from] == 0 {
			b.first[e.from] = e.number
			b.barrels[e.number] = e.from
		}
		e.emptied = len(b.in[e.from]) > 0 && b.has[e.from] == 0
		return mixture{{originOf(b.first[e.from]), e.mass}}, nil
	}
	if b.has[e.from] < 0 {
		return nil, &OverdrawnError{Place: b.places[e.from], Has: b.has[e.from] + e.mass, Asked: e.mass}
	}
	taken, rest, err := b.content[e.from].take(e.mass)
	if err != nil {
		return nil, err
	}
	if e.emptied = len(rest) == 0; e.emptied {
		delete(b.content, e.from)
	} else {
		b.content[e.from] = rest
	}
	if kind := b.places[e.to].Kind(); kind == Charge || kind == Pack {
		b.carried[n] = taken
	}
	return taken, nil
}

// delivered tells whether a place is a barrel as it was delivered: nothing was ever filled into it.
func (b *Book) delivered(n int32) bool {
	return b.places[n].Kind() == Barrel && len(b.in[n]) == 0
}

// Content is what is in a charge or lot now, to the thousandth, after pending transfers that are not in the book yet, in the
// order of their numbers.
func (b *Book) Content(place Place, pending []Transfer) ([]Part, error) {
	changed, first := map[Place]mixture{}, map[Place]int64{}
	barrels := map[int64]Place{}
	at := func(p Place) mixture {
		if m, is := changed[p]; is {
			return m
		}
		if n, known := b.index[p]; known {
			return b.content[n]
		}
		return nil
	}
	for _, t := range pending {
		taken := mixture{{b.origin(t, first, barrels), t.Mass}}
		if t.From.Kind() != Barrel {
			carried, rest, err := at(t.From).take(t.Mass)
			if err != nil {
				return nil, fmt.Errorf("transfer %d: %w", t.Number, err)
			}
			taken, changed[t.From] = carried, rest
		}
		if t.To.Kind() == Barrel {
			first[t.To] = taken[0].origin.first()
		}
		changed[t.To] = at(t.To).with(taken)
	}
	var out []Part
	for _, s := range at(place) {
		name, isNew := barrels[s.origin.first()]
		if !isNew {
			name = b.places[b.barrels[s.origin.first()]]
		}
		out = append(out, Part{name, s.mass})
	}
	slices.SortFunc(out, byPlace)
	return out, nil
}

// origin of what a pending transfer takes from a container of stock.
func (b *Book) origin(t Transfer, first map[Place]int64, barrels map[int64]Place) origin {
	number := first[t.From]
	if n, known := b.index[t.From]; number == 0 && known {
		number = b.first[n]
	}
	if number == 0 {
		number = t.Number
		first[t.From], barrels[number] = number, t.From
	}
	return originOf(number)
}
