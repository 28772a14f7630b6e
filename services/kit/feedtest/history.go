package feedtest

import (
	"errors"
	"fmt"
	"slices"

	"google.golang.org/protobuf/types/known/wrapperspb"

	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
)

// seen is one event as a reader got it: who wrote it and where it stood in its transaction and aggregate.
type seen struct {
	sequence  int64
	id        string
	aggregate string
	tag       tag
}

// tag travels in the payload of the events the writers of this suite append.
type tag struct {
	transaction string
	place, of   int
	version     int64 // of the aggregate, taken under its row lock
}

func (g tag) String() string {
	return fmt.Sprintf("%s %d %d %d", g.transaction, g.place, g.of, g.version)
}

func parseTag(text string) (g tag, err error) {
	_, err = fmt.Sscanf(text, "%s %d %d %d", &g.transaction, &g.place, &g.of, &g.version)
	return g, err
}

// history is what was committed and what one reader got, page by page.
type history struct {
	committed map[string]int // transaction → number of events
	pages     [][]seen
}

func (h *history) add(p *feedv1.WatchResponse) error {
	var page []seen
	for _, ev := range p.GetEvents() {
		var text wrapperspb.StringValue
		if err := ev.GetPayload().UnmarshalTo(&text); err != nil {
			return err
		}
		g, err := parseTag(text.GetValue())
		if err != nil {
			return err
		}
		page = append(page, seen{ev.GetSequence(), ev.GetEventId(), ev.GetAggregate(), g})
	}
	h.pages = append(h.pages, page)
	return nil
}

func (h *history) all() []seen { return slices.Concat(h.pages...) }

// guarantee is one promise of the feed and how a history is checked for it.
type guarantee struct {
	name  string
	check func(*history) error
}

func guarantees() []guarantee {
	return []guarantee{
		{"Dense", dense}, {"Ordered", ordered}, {"Unique", unique}, {"Reliable", reliable}, {"Atomic", atomicPages}, {"Causal", causal},
	}
}

// checkAll finds every broken guarantee.
func (h *history) checkAll() error {
	var faults []error
	for _, g := range guarantees() {
		if err := g.check(h); err != nil {
			faults = append(faults, fmt.Errorf("%s: %w", g.name, err))
		}
	}
	return errors.Join(faults...)
}

func dense(h *history) error {
	for i, ev := range h.all() {
		if ev.sequence != int64(i+1) {
			return fmt.Errorf("event %d of the stream has sequence %d", i+1, ev.sequence)
		}
	}
	return nil
}

func ordered(h *history) error {
	var last int64
	for _, ev := range h.all() {
		if ev.sequence <= last {
			return fmt.Errorf("%d comes after %d", ev.sequence, last)
		}
		last = ev.sequence
	}
	return nil
}

func unique(h *history) error {
	ids := map[string]int64{}
	for _, ev := range h.all() {
		if before, twice := ids[ev.id]; twice {
			return fmt.Errorf("event %s came as %d and as %d", ev.id, before, ev.sequence)
		}
		ids[ev.id] = ev.sequence
	}
	return nil
}

// reliable compares with what was committed: nothing lost, nothing of a rolled back transaction.
func reliable(h *history) error {
	got := map[string]int{}
	for _, ev := range h.all() {
		got[ev.tag.transaction]++
	}
	for transaction, want := range h.committed {
		if got[transaction] != want {
			return fmt.Errorf("transaction %s committed %d events, %d arrived (%d of %d transactions arrived)",
				transaction, want, got[transaction], len(got), len(h.committed))
		}
	}
	if len(got) != len(h.committed) {
		return fmt.Errorf("%d transactions arrived, %d were committed", len(got), len(h.committed))
	}
	return nil
}

// atomicPages also holds that a transaction's events stand together, in the order they were appended.
func atomicPages(h *history) error {
	for _, page := range h.pages {
		for i := 0; i < len(page); {
			first := page[i].tag
			for place := range first.of {
				if i >= len(page) {
					return fmt.Errorf("a page ends inside transaction %s", first.transaction)
				}
				if g := page[i].tag; g.transaction != first.transaction || g.place != place {
					return fmt.Errorf("event %d of %s stands inside transaction %s", g.place, g.transaction, first.transaction)
				}
				i++
			}
		}
	}
	return nil
}

// causal relies on versions taken under a row lock: a version can be written only after the one before was committed.
func causal(h *history) error {
	last := map[string]seen{}
	for _, ev := range h.all() {
		before, known := last[ev.aggregate]
		if known && before.tag.version > ev.tag.version {
			return fmt.Errorf("%s: version %d came as %d, version %d as %d", ev.aggregate,
				before.tag.version, before.sequence, ev.tag.version, ev.sequence)
		}
		last[ev.aggregate] = ev
	}
	return nil
}
