package lots

import (
	"cmp"
	"slices"

	"barrelhead.example/services/kit/quantity"
)

func byPlace(a, b Part) int { return cmp.Compare(a.Place, b.Place) }

// Follow traces one place as the function of that name does, over everything in the book; net is the delivered net of the
// place, where it is a barrel. Content is left out, and so are actors, times and reasons of the transfers.
func (b *Book) Follow(asked Place, net quantity.Mass) (*Trace, error) {
	n, known := b.index[asked]
	if !known {
		return b.untouched(asked, net), nil
	}
	m := &marking{Book: b, asked: n, now: map[int32]mixture{}, sources: map[int32]quantity.Mass{}, ended: map[int32]quantity.Mass{}}
	if err := m.run(net); err != nil {
		return nil, err
	}
	t := &Trace{Place: asked}
	on := map[int32]bool{}
	for _, p := range b.upstream(n, on) {
		if b.delivered(p) {
			t.Sources = append(t.Sources, Part{b.places[p], m.sources[p]})
			t.Total += m.sources[p]
		}
	}
	for _, p := range b.downstream(n, on, m.left(n, net)) {
		t.Ends = append(t.Ends, Part{b.places[p], m.markedIn(p)})
	}
	slices.SortFunc(t.Sources, byPlace)
	slices.SortFunc(t.Ends, byPlace)
	for _, e := range sortedKeys(on) {
		x := b.edges[e]
		t.Transfers = append(t.Transfers, Transfer{Number: x.number, From: b.places[x.from], To: b.places[x.to], Mass: x.mass})
	}
	slices.SortFunc(t.Transfers, func(a, b Transfer) int { return cmp.Compare(a.Number, b.Number) })
	return t, nil
}

// Reached is every other place in the house honey of a place can be in now, in whatever traces.
func (b *Book) Reached(from Place) []Place {
	n, known := b.index[from]
	if !known {
		return nil
	}
	var out []Place
	for _, p := range b.downstream(n, map[int32]bool{}, true) {
		if p != n && b.places[p].holds() {
			out = append(out, b.places[p])
		}
	}
	slices.Sort(out)
	return out
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

// closure is every place reached from one by edges; next lists those of a place, far is their other end.
func (b *Book) closure(from int32, next [][]int32, far func(edge) int32) (in []bool, list []int32) {
	in, list = make([]bool, len(b.places)), []int32{from}
	in[from] = true
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

// upstream finds the edges, and the places they came from, whose honey was ever in the place asked about, in whatever traces.
// See replay.upstream, which it is for the transfers that leave any place reached backwards.
func (b *Book) upstream(asked int32, on map[int32]bool) []int32 {
	reached, list := b.closure(asked, b.in, func(e edge) int32 { return e.from })
	open, from := make([]bool, len(b.places)), make([]bool, len(b.places))
	open[asked], from[asked] = true, true
	out := []int32{asked}
	for _, n := range slices.Backward(b.leaving(reached, list)) {
		e := &b.edges[n]
		counts := open[e.to] || e.to == asked
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
func (b *Book) downstream(asked int32, on map[int32]bool, left bool) []int32 {
	reached, list := b.closure(asked, b.out, func(e edge) int32 { return e.to })
	in := make([]bool, len(b.places))
	in[asked] = true
	mayReturn := b.leaving(reached, list)
	for _, n := range merge(mayReturn, b.in[asked]) {
		e := &b.edges[n]
		counts := in[e.from]
		if e.emptied {
			in[e.from] = false
		}
		if counts {
			on[n], in[e.to] = true, true
		}
		if e.to == asked {
			in[asked] = true
		}
	}
	if b.delivered(asked) {
		in[asked] = left
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
