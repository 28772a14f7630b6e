package lots

import (
	"container/heap"
	"slices"

	"barrelhead.example/services/kit/quantity"
)

// marking follows the honey that has been in one place, as marked shares of what every place it reaches is composed of.
// Places it does not reach are never looked at: what they gave is in the book.
type marking struct {
	*Book
	asked   []int32                 // the spots of the place asked about
	now     map[int32]mixture       // what is in the place asked about and in each other with marked honey that something leaves
	sources map[int32]quantity.Mass // what arrived at the place asked about for the first time, by barrel
	ended   map[int32]quantity.Mass // marked honey in losses, and in shipments nothing came back from
	back    map[int32]quantity.Mass // marked honey that came back, by where it was
	queue   edgeQueue
	next    int32 // edges before it are done
}

type edgeQueue []int32

func (q edgeQueue) Len() int           { return len(q) }
func (q edgeQueue) Less(i, j int) bool { return q[i] < q[j] }
func (q edgeQueue) Swap(i, j int)      { q[i], q[j] = q[j], q[i] }
func (q *edgeQueue) Push(x any)        { *q = append(*q, x.(int32)) }
func (q *edgeQueue) Pop() any {
	old := *q
	last := old[len(old)-1]
	*q = old[:len(old)-1]
	return last
}

func (m *marking) run(net quantity.Mass) error {
	for _, n := range m.asked {
		if m.delivered(n) {
			m.now[n] = mixture{{originOf(m.first[n]) | 1, net}}
			m.sources[n] = net
		} else if m.passes(n) {
			m.now[n] = nil
		}
		m.enqueue(n, 0)
	}
	for m.queue.Len() > 0 {
		n, ok := heap.Pop(&m.queue).(int32)
		if !ok || n < m.next {
			continue // the same edge, queued by both its ends
		}
		m.next = n + 1
		if err := m.step(n); err != nil {
			return err
		}
	}
	return nil
}

// passes tells whether honey that arrives at a place may leave it again.
func (m *marking) passes(n int32) bool { return m.places[n].holds() || len(m.out[n]) > 0 }

// enqueue lists what happens to a place from an edge on.
func (m *marking) enqueue(place, from int32) {
	for _, edges := range [][]int32{m.out[place], m.in[place]} {
		for _, n := range edges {
			if n >= from {
				heap.Push(&m.queue, n)
			}
		}
	}
}

func (m *marking) step(n int32) error {
	e := m.edges[n]
	content, tracked := m.now[e.from]
	if !tracked {
		carried, err := m.unmarked(n)
		if err != nil {
			return err
		}
		return m.arrive(n, carried)
	}
	carried, rest, err := content.take(e.mass)
	if err != nil {
		return err
	}
	m.now[e.from] = rest
	if m.places[e.from].Kind() == Shipment {
		m.back[e.from] += marked(carried)
	}
	return m.arrive(n, carried)
}

// unmarked is what an edge carries, without marks.
func (b *Book) unmarked(n int32) (mixture, error) {
	e := b.edges[n]
	if b.places[e.from].Kind() == Barrel {
		return mixture{{originOf(b.first[e.from]), e.mass}}, nil
	}
	if carried, kept := b.carried[n]; kept {
		return carried, nil
	}
	content, err := b.before(e.from, n)
	if err != nil {
		return nil, err
	}
	carried, _, err := content.take(e.mass)
	return carried, err
}

func (m *marking) arrive(n int32, carried mixture) error {
	to := m.edges[n].to
	if slices.Contains(m.asked, to) {
		for _, s := range carried {
			if !s.origin.marked() {
				m.sources[m.barrels[s.origin.first()]] += s.mass
			}
		}
		carried = carried.marks()
	}
	amount := marked(carried)
	if !m.passes(to) {
		m.ended[to] += amount
		return nil
	}
	content, tracked := m.now[to]
	if !tracked {
		if amount == 0 {
			return nil
		}
		var err error
		if content, err = m.before(to, n); err != nil {
			return err
		}
		m.enqueue(to, n+1)
	}
	m.now[to] = content.with(carried)
	return nil
}

// before is what a place held just before an edge.
func (b *Book) before(place, until int32) (mixture, error) {
	var content mixture
	in, out := b.in[place], b.out[place]
	for {
		switch {
		case len(in) > 0 && in[0] < until && (len(out) == 0 || in[0] < out[0]):
			carried, err := b.unmarked(in[0])
			if err != nil {
				return nil, err
			}
			content, in = content.with(carried), in[1:]
		case len(out) > 0 && out[0] < until:
			var err error
			if _, content, err = content.take(b.edges[out[0]].mass); err != nil {
				return nil, err
			}
			out = out[1:]
		default:
			return content, nil
		}
	}
}

// markedIn is how much marked honey a place holds now.
func (m *marking) markedIn(p int32) quantity.Mass {
	return marked(m.now[p]) + m.ended[p]
}

// left tells whether a delivered barrel still holds something.
func (m *marking) left(p int32, net quantity.Mass) bool { return net > -m.has[p] }
