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
	// Transfers on the way to it and from it, in order.
	Transfers []Transfer
}

// replay of a ledger: every transfer again, in order.
type replay struct {
	asked   Place
	barrels map[int64]Place // by their first transfer
	content map[Place]mixture
	sources map[Place]quantity.Mass // what was marked on arrival at the place asked about
	emptied map[int64]bool          // transfers after which nothing was left where they came from
}

// Follow replays transfers, in order of their numbers, over barrels with their delivered nets, and traces one place. The
// transfers must include everything that left any place honey of asked ever came from or went to. It fails with an
// *OverdrawnError where the books never agreed.
func Follow(asked Place, delivered map[Place]quantity.Mass, transfers []Transfer) (*Trace, error) {
	r := &replay{
		asked: asked, barrels: map[int64]Place{}, content: map[Place]mixture{}, sources: map[Place]quantity.Mass{}, emptied: map[int64]bool{},
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
			r.arrive(place, mixture{{originOf(first[place]), net}})
		}
	}
	for _, t := range transfers {
		if err := r.apply(t); err != nil {
			return nil, err
		}
	}
	inward, from := r.upstream(transfers, true)
	_, now := r.upstream(transfers, false)
	onward, to := r.downstream(transfers)
	content := map[Place]quantity.Mass{}
	for _, s := range r.content[asked] {
		content[r.barrels[s.origin.first()]] += s.mass
	}
	trace := &Trace{
		Place: asked,
		Sources: ordered(from, func(p Place) (quantity.Mass, bool) {
			_, is := delivered[p]
			return r.sources[p], is
		}),
		Content: ordered(now, func(p Place) (quantity.Mass, bool) {
			_, is := delivered[p]
			return content[p], is
		}),
		Ends: ordered(to, func(p Place) (quantity.Mass, bool) { return marked(r.content[p]), true }),
	}
	for _, s := range trace.Sources {
		trace.Total += s.Mass
	}
	for _, t := range transfers {
		if inward[t.Number] || onward[t.Number] {
			trace.Transfers = append(trace.Transfers, t)
		}
	}
	return trace, nil
}

func (r *replay) apply(t Transfer) error {
	from := r.content[t.From]
	has := from.total()
	if has < t.Mass {
		return fmt.Errorf("transfer %d: %w", t.Number, &OverdrawnError{Place: t.From, Has: has, Asked: t.Mass})
	}
	if r.emptied[t.Number] = has == t.Mass; r.emptied[t.Number] {
		delete(r.content, t.From)
		r.arrive(t.To, from)
		return nil
	}
	taken, rest, err := from.take(t.Mass)
	if err != nil {
		return fmt.Errorf("transfer %d: %w", t.Number, err)
	}
	r.content[t.From] = rest
	r.arrive(t.To, taken)
	return nil
}

// arrive puts a mixture into a place. What reaches the place asked about for the first time is marked there and counted
// as its source; marked honey that comes round again, as rework, is not counted twice.
func (r *replay) arrive(place Place, m mixture) {
	if place == r.asked {
		for _, s := range m {
			if !s.origin.marked() {
				r.sources[r.barrels[s.origin.first()]] += s.mass
			}
		}
		m = m.marks()
	}
	r.content[place] = r.content[place].with(m)
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
	open := map[Place]bool{}
	if ever || r.content[r.asked].total() > 0 {
		open[r.asked], from[r.asked] = true, true
	}
	for _, t := range slices.Backward(transfers) {
		counts := open[t.To] || (ever && t.To == r.asked)
		if r.emptied[t.Number] {
			open[t.From] = counts
		} else if counts {
			open[t.From] = true
		}
		if counts {
			on[t.Number], from[t.From] = true, true
		}
	}
	return on, from
}

// downstream finds the transfers that can carry honey of the place asked about, and where it can be now.
func (r *replay) downstream(transfers []Transfer) (on map[int64]bool, in map[Place]bool) {
	on, in = map[int64]bool{}, map[Place]bool{r.asked: true}
	for _, t := range transfers {
		counts := in[t.From]
		if r.emptied[t.Number] {
			delete(in, t.From)
		}
		if counts {
			on[t.Number], in[t.To] = true, true
		}
		if t.To == r.asked {
			in[t.To] = true
		}
	}
	return on, in
}
