package settlement_test

import (
	"fmt"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

// story is what two neighbours have to tell about a few barrels, each in its own order.
type story struct{ dock, lab []proto.Message }

// tell draws a story; id makes its barrels, tickets and members its own, so that one database serves many stories.
func tell(t *rapid.T, id string, plan []int) story {
	var s story
	owner, other := id+"-A", id+"-B"
	s.dock = append(s.dock, member(owner, "Orchard Hill Apiary"), member(other, "Three Oaks Honey"))
	var barrels []barrelOf
	for i := range plan {
		barrels = append(barrels, barrelOf{fmt.Sprintf("%s-%d", id, i), "640.0", "clover"})
	}
	live := ticket(id+"/1", owner, barrels...)
	s.dock = append(s.dock, closed(live))
	for i, p := range plan {
		s.dock = append(s.dock, sampled(barrels[i].id))
		for v := 1; v <= p%4; v++ {
			color := []string{"WHITE", "EXTRA_LIGHT_AMBER", "DARK_AMBER"}[(p/4+v)%3]
			s.lab = append(s.lab, graded(barrels[i].id, v, fmt.Sprintf("%d.%d", 17+p%3, v), color, "A"))
		}
	}
	switch plan[0] / 12 % 3 {
	case 1:
		s.dock = append(s.dock, &intakev1.TicketVoided{Ticket: live})
	case 2:
		moved := ticket(id+"/2", other, barrels[:1+plan[0]%len(barrels)]...)
		s.dock = append(s.dock, &intakev1.TicketReissued{OldTicket: live, NewTicket: moved})
	}
	return s
}

// outcome is what stands after a story, without its identity.
func (h *house) outcome(id string) string {
	var b strings.Builder
	for _, m := range []string{id + "-A", id + "-B"} {
		t := h.total(m)
		fmt.Fprintln(&b, t.GetBarrels(), t.GetPricedBarrels(), t.GetNet(), t.GetPayable(), t.GetGrossAmount(), t.GetDeductions(), t.GetNetAmount())
	}
	for drum, reason := range h.waiting() {
		if strings.HasPrefix(drum, id) {
			fmt.Fprintln(&b, drum, reason)
		}
	}
	return strings.ReplaceAll(b.String(), id, "")
}

func TestOrderOfTheFeedsDoesNotMatter(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.adopt(prices("2026-07-01"))
	n := 0
	rapid.Check(t, func(rt *rapid.T) {
		n++
		plan := rapid.SliceOfN(rapid.IntRange(0, 35), 1, 2).Draw(rt, "plan")
		straight, mixed := fmt.Sprintf("S%d", n), fmt.Sprintf("M%d", n)
		s := tell(rt, straight, plan)
		for _, fact := range append(s.dock, s.lab...) {
			h.take(fact)
		}
		m := tell(rt, mixed, plan)
		for len(m.dock)+len(m.lab) > 0 {
			from := &m.dock
			if len(m.dock) == 0 || len(m.lab) > 0 && rapid.Bool().Draw(rt, "lab first") {
				from = &m.lab
			}
			h.take((*from)[0])
			*from = (*from)[1:]
		}
		require.Equal(t, sortedLines(h.outcome(straight)), sortedLines(h.outcome(mixed)))
	})
}

func sortedLines(s string) map[string]int {
	lines := map[string]int{}
	for l := range strings.SplitSeq(s, "\n") {
		lines[l]++
	}
	return lines
}

// Two feeds at the same moment: each transaction sees only part of the facts, and still every barrel is priced exactly once.
func TestFeedsAtTheSameMoment(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.adopt(prices("2026-07-01"))
	h.take(member("M-0001", "Orchard Hill Apiary"))
	const barrels = 60
	var dock, lab []proto.Message
	for i := range barrels {
		tag := fmt.Sprintf("FC-%d", i)
		dock = append(dock, sampled(tag), closed(ticket(fmt.Sprintf("FC-2026-%06d", i), "M-0001", barrelOf{tag, "640.0", "clover"})))
		lab = append(lab, graded(tag, 1, "17.0", "WHITE", "A"))
	}
	errs := make(chan error, len(dock)+len(lab))
	var running sync.WaitGroup
	for _, facts := range [][]proto.Message{dock, lab} {
		running.Go(func() {
			for _, f := range facts {
				errs <- h.tryTake(f)
			}
		})
	}
	running.Wait()
	close(errs)
	for err := range errs {
		require.NoError(t, err)
	}
	require.Equal(t, int32(barrels), h.total("M-0001").GetPricedBarrels())
	require.Equal(t, barrels, h.facts()[pricedFact])
	require.Empty(t, h.waiting())
}

// A fact may come twice: after a crash, or when the read tables are filled again.
func TestFactsMayBeRepeated(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.adopt(prices("2026-07-01"))
	facts := []proto.Message{
		member("M-0001", "Orchard Hill Apiary"), sampled("FC-1"), closed(ticket("FC-2026-000001", "M-0001", barrelOf{"FC-1", "640.0", "clover"})),
		graded("FC-1", 1, "19.2", "WHITE", "A"), graded("FC-1", 2, "18.9", "WHITE", "A"),
	}
	for range 3 {
		for _, f := range facts {
			h.take(f)
		}
	}
	require.Len(t, h.payouts("M-0001"), 3)
}
