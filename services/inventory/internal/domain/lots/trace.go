package lots

import (
	"fmt"
	"maps"
	"slices"

	"barrelhead.example/services/kit/quantity"
)

// Part is how much of something a place has.
type Part struct {
	Place Place
	Mass  quantity.Mass
}

// Trace is where the honey of one place came from and where it went.
type Trace struct {
	Place Place
	// Total is all that ever went into the place, what came back a second time not counted again.
	Total quantity.Mass
	// Sources are the delivered barrels in it; they add up to Total.
	Sources []Part
	// Content is what is in the place now, by delivered barrel.
	Content []Part
	// Ends are where it is now, itself included; they add up to Total.
	Ends []Part
	// Returned is how much of it came back from each shipment it came back from.
	Returned []Part
	// Transfers on the way to it and from it, in order.
	Transfers []Transfer
}

// replay of a ledger: every transfer again, in order.
type replay struct {
	asked   Place
	spots   map[spot]bool   // of the place asked about
	barrels map[int64]Place // by their first transfer
	content map[spot]mixture
	sources map[Place]quantity.Mass // what was marked on arrival at the place asked about
	back    map[int64]quantity.Mass // marked honey that came back from a shipment, by transfer
	emptied map[int64]bool          // transfers after which nothing was left where they came from
}

// Follow replays transfers, in order of their numbers, over barrels with their delivered nets, and traces one place. The
// transfers must include everything that left any place honey of asked ever came from or went to. It fails with an
// *OverdrawnError where the books never agreed.
func Follow(asked Place, delivered map[Place]quantity.Mass, transfers []Transfer) (*Trace, error) {
	r := &replay{
		asked: asked, spots: spotsOf(asked, transfers), barrels: map[int64]Place{}, content: map[spot]mixture{}, sources: map[Place]quantity.Mass{},
		back: map[int64]quantity.Mass{}, emptied: map[int64]bool{},
	}
	first := map[Place]int64{}
	for _, t := range transfers {
		if _, seen := first[t.From]; !seen {
			first[t.From] = t.Number
		}
	}
	for place, net := range delivered {
		if first[place] > 0 || place == asked {
			r.barrels[first[place]] = place
		}
		if net > 0 {
			r.arrive(spot{Place: place}, mixture{{originOf(first[place]), net}})
		}
	}
	for _, t := range transfers {
		if err := r.apply(t); err != nil {
			return nil, err
		}
	}
	return r.trace(delivered, transfers), nil
}

// spotsOf are those of a place.
func spotsOf(asked Place, transfers []Transfer) map[spot]bool {
	out := map[spot]bool{}
	if asked.Kind() != Shipment {
		out[spot{Place: asked}] = true
	}
	for _, t := range transfers {
		from, to := t.spots()
		for _, s := range []spot{from, to} {
			if s.Place == asked {
				out[s] = true
			}
		}
	}
	return out
}

func (r *replay) trace(delivered map[Place]quantity.Mass, transfers []Transfer) *Trace {
	inward, from := r.upstream(transfers, true)
	_, now := r.upstream(transfers, false)
	onward, to := r.downstream(transfers)
	content, ends, returned := map[Place]quantity.Mass{}, map[Place]quantity.Mass{}, map[Place]quantity.Mass{}
	for own := range r.spots {
		for _, s := range r.content[own] {
			content[r.barrels[s.origin.first()]] += s.mass
		}
	}
	for s := range to {
		ends[s.Place] += marked(r.content[s])
	}
	trace := &Trace{
		Place: r.asked,
		Sources: ordered(from, func(p Place) (quantity.Mass, bool) {
			_, is := delivered[p]
			return r.sources[p], is
		}),
		Content: ordered(now, func(p Place) (quantity.Mass, bool) {
			_, is := delivered[p]
			return content[p], is
		}),
		Ends: listed(ends),
	}
	for _, s := range trace.Sources {
		trace.Total += s.Mass
	}
	for _, t := range transfers {
		if onward[t.Number] && t.From.Kind() == Shipment {
			returned[t.From] += r.back[t.Number]
		}
		if inward[t.Number] || onward[t.Number] {
			trace.Transfers = append(trace.Transfers, t)
		}
	}
	trace.Returned = listed(returned)
	return trace
}

func (r *replay) apply(t Transfer) error {
	at, to := t.spots()
	from := r.content[at]
	has := from.total()
	if has < t.Mass {
		return fmt.Errorf("transfer %d: %w", t.Number, &OverdrawnError{Place: t.From, Has: has, Asked: t.Mass})
	}
	taken, rest := from, mixture(nil)
	if r.emptied[t.Number] = has == t.Mass; !r.emptied[t.Number] {
		var err error
		if taken, rest, err = from.take(t.Mass); err != nil {
			return fmt.Errorf("transfer %d: %w", t.Number, err)
		}
	}
	if r.content[at] = rest; len(rest) == 0 {
		delete(r.content, at)
	}
	if t.From.Kind() == Shipment {
		r.back[t.Number] = marked(taken)
	}
	r.arrive(to, taken)
	return nil
}

// arrive puts a mixture into a place. What reaches the place asked about for the first time is marked there and counted
// as its source; marked honey that comes round again, as rework or from a customer, is not counted twice.
func (r *replay) arrive(at spot, m mixture) {
	if at.Place == r.asked {
		for _, s := range m {
			if !s.origin.marked() {
				r.sources[r.barrels[s.origin.first()]] += s.mass
			}
		}
		m = m.marks()
	}
	r.content[at] = r.content[at].with(m)
}

func marked(m mixture) quantity.Mass {
	var sum quantity.Mass
	for _, s := range m {
		if s.origin.marked() {
			sum += s.mass
		}
	}
	return sum
}

// ordered lists the places that count with their masses.
func ordered(places map[Place]bool, mass func(Place) (quantity.Mass, bool)) []Part {
	out := make([]Part, 0, len(places))
	for _, p := range slices.Sorted(maps.Keys(places)) {
		if m, counts := mass(p); counts {
			out = append(out, Part{p, m})
		}
	}
	return out
}

// upstream finds the transfers, and the places they came from, whose honey can be in the place asked about, in whatever
// traces: backwards in time, an arrival counts if something that counts left later, before the place was emptied in
// between. Time makes this end even where honey went round in a circle. With ever it is about all that was in the place at
// any time, else about what is in it now.
func (r *replay) upstream(transfers []Transfer, ever bool) (on map[int64]bool, from map[Place]bool) {
	on, from = map[int64]bool{}, map[Place]bool{}
	open := map[spot]bool{}
	for s := range r.spots {
		if ever || r.content[s].total() > 0 {
			open[s], from[r.asked] = true, true
		}
	}
	for _, t := range slices.Backward(transfers) {
		at, to := t.spots()
		counts := open[to] || (ever && t.To == r.asked)
		if r.emptied[t.Number] {
			open[at] = counts
		} else if counts {
			open[at] = true
		}
		if counts {
			on[t.Number], from[t.From] = true, true
		}
	}
	return on, from
}

// downstream finds the transfers that can carry honey of the place asked about, and where it can be now.
func (r *replay) downstream(transfers []Transfer) (on map[int64]bool, in map[spot]bool) {
	on, in = map[int64]bool{}, maps.Clone(r.spots)
	for _, t := range transfers {
		from, to := t.spots()
		counts := in[from]
		if r.emptied[t.Number] {
			delete(in, from)
		}
		if counts {
			on[t.Number], in[to] = true, true
		}
		if t.To == r.asked {
			in[to] = true
		}
	}
	return on, in
}
