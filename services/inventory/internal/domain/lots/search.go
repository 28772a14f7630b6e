package lots

import (
	"cmp"
	"maps"
	"slices"

	"barrelhead.example/services/kit/quantity"
)

// listed is masses by place, in the order of the places.
func listed(masses map[Place]quantity.Mass) []Part {
	out := make([]Part, 0, len(masses))
	for _, p := range slices.Sorted(maps.Keys(masses)) {
		out = append(out, Part{p, masses[p]})
	}
	return out
}

func byPlace(a, b Part) int { return cmp.Compare(a.Place, b.Place) }

// Follow traces one place as the function of that name does, over everything in the book; net is the delivered net of the
// place, where it is a barrel. Content is left out, and so are actors, times and reasons of the transfers.
func (b *Book) Follow(asked Place, net quantity.Mass) (*Trace, error) {
	spots := b.spots(asked)
	if len(spots) == 0 {
		return b.untouched(asked, net), nil
	}
	m := &marking{
		Book: b, asked: spots, now: map[int32]mixture{}, sources: map[int32]quantity.Mass{}, ended: map[int32]quantity.Mass{}, back: map[int32]quantity.Mass{},
	}
	if err := m.run(net); err != nil {
		return nil, err
	}
	t := &Trace{Place: asked}
	on, onward := map[int32]bool{}, map[int32]bool{}
	for _, p := range b.upstream(spots, on) {
		if b.delivered(p) {
			t.Sources = append(t.Sources, Part{b.places[p].Place, m.sources[p]})
			t.Total += m.sources[p]
		}
	}
	slices.SortFunc(t.Sources, byPlace)
	ends, returned := map[Place]quantity.Mass{}, map[Place]quantity.Mass{}
	for _, p := range b.downstream(spots, onward, m.left(spots[0], net)) {
		ends[b.places[p].Place] += m.markedIn(p)
	}
	for e := range onward {
		on[e] = true
		if from := b.places[b.edges[e].from].Place; from.Kind() == Shipment {
			returned[from] += 0
		}
	}
	for p, mass := range m.back {
		returned[b.places[p].Place] += mass
	}
	t.Ends, t.Returned = listed(ends), listed(returned)
	for _, e := range sortedKeys(on) {
		x := b.edges[e]
		t.Transfers = append(t.Transfers, Transfer{Number: x.number, From: b.places[x.from].Place, To: b.places[x.to].Place, Mass: x.mass, Of: b.places[x.from].of})
	}
	slices.SortFunc(t.Transfers, func(a, b Transfer) int { return cmp.Compare(a.Number, b.Number) })
	return t, nil
}

// Reached is every other place in the house honey of a place can be in now, in whatever traces.
func (b *Book) Reached(from Place) []Place {
	spots := b.spots(from)
	if len(spots) == 0 {
		return nil
	}
	var out []Place
	for _, p := range b.downstream(spots, map[int32]bool{}, true) {
		if !slices.Contains(spots, p) && b.places[p].holds() {
			out = append(out, b.places[p].Place)
		}
	}
	slices.Sort(out)
	return out
}

// MadeOf is every place honey that was ever in a place came through, itself included, in whatever traces.
func (b *Book) MadeOf(place Place) []Place {
	seen := map[Place]quantity.Mass{}
	for _, p := range b.upstream(b.spots(place), map[int32]bool{}) {
		seen[b.places[p].Place] = 0
	}
	return slices.Sorted(maps.Keys(seen))
}

// untouched is the trace of a place no honey ever went into or left.
func (b *Book) untouched(asked Place, net quantity.Mass) *Trace {
	t := &Trace{Place: asked, Ends: []Part{{asked, net}}, Sources: []Part{}}
	if asked.Kind() == Barrel {
		t.Total, t.Sources = net, []Part{{asked, net}}
	}
	return t
}

func sortedKeys(set map[int32]bool) []int32 {
	out := make([]int32, 0, len(set))
	for k := range set {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// closure is every spot reached from some by edges; next lists those of a spot, far is their other end.
func (b *Book) closure(from []int32, next [][]int32, far func(edge) int32) (in []bool, list []int32) {
	in, list = make([]bool, len(b.places)), slices.Clone(from)
	for _, n := range from {
		in[n] = true
	}
	for i := 0; i < len(list); i++ {
		for _, e := range next[list[i]] {
			if p := far(b.edges[e]); !in[p] {
				in[p] = true
				list = append(list, p)
			}
		}
	}
	return in, list
}

// leaving is every edge that leaves one of the places, in order.
func (b *Book) leaving(in []bool, list []int32) []int32 {
	count := 0
	for _, p := range list {
		count += len(b.out[p])
	}
	out := make([]int32, 0, count)
	if count > len(b.edges)/16 { // sorting would take longer than reading all
		for n, e := range b.edges {
			if in[e.from] {
				out = append(out, int32(n))
			}
		}
		return out
	}
	for _, p := range list {
		out = append(out, b.out[p]...)
	}
	slices.Sort(out)
	return out
}

// upstream finds the edges, and the spots they came from, whose honey was ever in the place asked about, in whatever traces.
// See replay.upstream, which it is for the transfers that leave any place reached backwards.
func (b *Book) upstream(asked []int32, on map[int32]bool) []int32 {
	reached, list := b.closure(asked, b.in, func(e edge) int32 { return e.from })
	open, from := make([]bool, len(b.places)), make([]bool, len(b.places))
	for _, n := range asked {
		open[n], from[n] = true, true
	}
	out := slices.Clone(asked)
	for _, n := range slices.Backward(b.leaving(reached, list)) {
		e := &b.edges[n]
		counts := open[e.to] || slices.Contains(asked, e.to)
		if e.emptied {
			open[e.from] = counts
		} else if counts {
			open[e.from] = true
		}
		if !counts {
			continue
		}
		on[n] = true
		if !from[e.from] {
			from[e.from] = true
			out = append(out, e.from)
		}
	}
	return out
}

// downstream finds the edges that can carry honey of the place asked about, and where it can be now. left tells whether
// something is left in the place itself, where it is a delivered barrel.
func (b *Book) downstream(asked []int32, on map[int32]bool, left bool) []int32 {
	reached, list := b.closure(asked, b.out, func(e edge) int32 { return e.to })
	in := make([]bool, len(b.places))
	matter := b.leaving(reached, list)
	for _, n := range asked {
		in[n] = true
		matter = merge(matter, b.in[n])
	}
	for _, n := range matter {
		e := &b.edges[n]
		counts := in[e.from]
		if e.emptied {
			in[e.from] = false
		}
		if counts {
			on[n], in[e.to] = true, true
		}
		if slices.Contains(asked, e.to) {
			in[e.to] = true
		}
	}
	if b.delivered(asked[0]) {
		in[asked[0]] = left
	}
	var out []int32
	for _, p := range list {
		if in[p] {
			out = append(out, p)
		}
	}
	return out
}

// merge is two rising lists as one, without repetition.
func merge(a, b []int32) []int32 {
	out := make([]int32, 0, len(a)+len(b))
	for len(a) > 0 && len(b) > 0 {
		switch {
		case a[0] < b[0]:
			out, a = append(out, a[0]), a[1:]
		case a[0] > b[0]:
			out, b = append(out, b[0]), b[1:]
		default:
			out, a, b = append(out, a[0]), a[1:], b[1:]
		}
	}
	return append(append(out, a...), b...)
}
