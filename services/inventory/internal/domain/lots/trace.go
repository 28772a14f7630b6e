package lots

import (
	"fmt"
	"slices"
	"strings"

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

// Replay of a ledger: every transfer again, in order.
type replay struct {
	asked   Place
	content map[Place]mixture
	sources mixture // what was marked on arrival at the place asked about
	onward  map[int64]bool
}

// Follow replays transfers, in order of their numbers, over barrels with their delivered nets, and traces one place. The
// transfers must include everything that left any place honey of asked ever came from or went to. It fails with an
// *OverdrawnError where the books never agreed.
func Follow(asked Place, delivered map[Place]quantity.Mass, transfers []Transfer) (*Trace, error) {
	r := &replay{asked: asked, content: map[Place]mixture{}, sources: mixture{}, onward: map[int64]bool{}}
	for place, net := range delivered {
		r.arrive(place, mixture{{barrel: place}: net})
	}
	for _, t := range transfers {
		if err := r.apply(t); err != nil {
			return nil, err
		}
	}
	trace := &Trace{Place: asked, Total: r.sources.total(), Sources: parts(r.sources), Content: parts(r.content[asked])}
	for place, m := range r.content {
		for o := range m {
			if o.marked {
				trace.Ends = append(trace.Ends, Part{place, marked(m)})
				break
			}
		}
	}
	slices.SortFunc(trace.Ends, func(a, b Part) int { return strings.Compare(string(a.Place), string(b.Place)) })
	inward := upstream(asked, transfers)
	for _, t := range transfers {
		if inward[t.Number] || r.onward[t.Number] {
			trace.Transfers = append(trace.Transfers, t)
		}
	}
	return trace, nil
}

func (r *replay) apply(t Transfer) error {
	from := r.content[t.From]
	if has := from.total(); has < t.Mass {
		return fmt.Errorf("transfer %d: %w", t.Number, &OverdrawnError{Place: t.From, Has: has, Asked: t.Mass})
	}
	moved, err := from.take(t.Mass)
	if err != nil {
		return fmt.Errorf("transfer %d: %w", t.Number, err)
	}
	for o := range moved {
		r.onward[t.Number] = r.onward[t.Number] || o.marked
	}
	r.arrive(t.To, moved)
	return nil
}

// arrive puts a mixture into a place. What reaches the place asked about for the first time is marked there and counted
// as its source; marked honey that comes round again, as rework, is not counted twice.
func (r *replay) arrive(place Place, m mixture) {
	if r.content[place] == nil {
		r.content[place] = mixture{}
	}
	if place == r.asked {
		fresh := mixture{}
		for o, v := range m {
			if !o.marked {
				r.sources[origin{barrel: o.barrel}] += v
			}
			fresh[origin{o.barrel, true}] += v
		}
		m = fresh
	}
	r.content[place].add(m)
}

func marked(m mixture) quantity.Mass {
	var sum quantity.Mass
	for o, v := range m {
		if o.marked {
			sum += v
		}
	}
	return sum
}

func parts(m mixture) []Part {
	out := make([]Part, 0, len(m))
	for _, o := range m.ordered() {
		out = append(out, Part{o.barrel, m[o]})
	}
	return out
}

// upstream finds the transfers whose honey can have reached a place: backwards in time, a transfer counts if it arrived
// before something that counts left. Time makes this end even where honey went round in a circle.
func upstream(asked Place, transfers []Transfer) map[int64]bool {
	last := map[Place]int64{asked: int64(1) << 62}
	on := map[int64]bool{}
	for _, t := range slices.Backward(transfers) {
		if t.Number >= last[t.To] {
			continue
		}
		on[t.Number] = true
		if t.Number > last[t.From] {
			last[t.From] = t.Number
		}
	}
	return on
}
