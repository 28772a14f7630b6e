package indicator

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/quantity"
)

// bench drives a tracker by its own time.
type bench struct {
	*tracker
	t   *testing.T
	now time.Time
}

func newBench(t *testing.T, s Settings, unit quantity.Unit) *bench {
	t.Helper()
	tr, err := newTracker(s.withDefaults(), unit)
	require.NoError(t, err)
	return &bench{tracker: tr, t: t, now: time.Date(2026, time.September, 14, 8, 0, 0, 0, time.UTC)}
}

// send sends n lines, ten a second.
func (b *bench) send(n int, line string) {
	for range n {
		b.now = b.now.Add(100 * time.Millisecond)
		b.line([]byte(line), b.now)
	}
}

func (b *bench) is(state State, message string) {
	b.t.Helper()
	got := b.at(b.now)
	require.Equal(b.t, state, got.State, got.Message)
	require.Contains(b.t, got.Message, message)
	require.Equal(b.t, state == Stable, got.Captured(b.now))
	require.Equal(b.t, state == Stable, !got.StableSince.IsZero())
}

const (
	still  = "S G      684.5 lb"
	moving = "M G      684.5 lb"
	empty  = "S G        0.0 lb"
)

func TestStatesAreToldApart(t *testing.T) {
	t.Parallel()
	b := newBench(t, marked(), "LB")
	b.is(Silent, "has sent nothing yet")
	b.send(3, still)
	b.is(Moving, "wait a moment")
	b.send(1, still)
	b.is(Moving, "wait a moment")
	b.send(1, still)
	b.is(Stable, "stands still at 684.5 lb")
	require.Equal(t, b.now.Add(-100*time.Millisecond), b.at(b.now).StableSince)
	b.send(1, moving)
	b.is(Moving, "is moving: wait until it stands still")
	b.send(1, still)
	b.is(Moving, "wait a moment")
	b.send(1, "S G      784.5 lb")
	b.is(Moving, "wait a moment")
	b.send(1, still)
	b.is(Moving, "wait a moment")
	b.send(1, still)
	b.is(Stable, "684.5 lb")
	b.send(1, "S G      310.5 kg")
	b.is(WrongUnit, "shows kg, and the cooperative weighs in lb: switch the indicator to lb")
	b.send(2, still)
	b.is(Stable, "684.5 lb")
	b.send(1, "O G ---------- lb")
	b.is(OverRange, "take the load off")
	b.send(1, "S G -      0.5 lb")
	b.is(UnderLoad, "set it to zero")
	b.send(1, "S N      640.0 lb")
	b.is(Net, "clear the tare")
	b.send(1, "hello")
	b.is(Unreadable, "does not have the form")
	b.tooLong([]byte("xxxx"), b.now)
	b.is(Unreadable, "check the terminator")
	b.send(2, empty)
	b.is(Stable, "0.0 lb")
	b.broken()
	b.is(Silent, "has sent nothing yet")
}

func TestWhatIsOldIsNotTaken(t *testing.T) {
	t.Parallel()
	b := newBench(t, marked(), "LB")
	b.send(5, still)
	got := b.at(b.now)
	require.True(t, got.Captured(b.now.Add(FreshFor-1)))
	require.False(t, got.Captured(b.now.Add(FreshFor)))
	b.now = b.now.Add(2 * time.Second)
	b.is(Silent, "has sent nothing for 2 s")

	// What waited in a buffer arrives at once, and none of it is taken.
	for range 100 {
		b.line([]byte(still), b.now)
	}
	b.is(Moving, "wait a moment")
	b.send(4, still)
	b.is(Stable, "684.5 lb")
}

func TestStuckIsSaidOfWhatShouldChange(t *testing.T) {
	t.Parallel()
	b := newBench(t, marked(), "LB")
	b.send(50, moving)
	b.is(Moving, "is moving")
	b.send(1, moving)
	b.is(Stuck, "the same moving weight for 5 s")
	b.send(1, "M G      685.0 lb")
	b.is(Moving, "is moving")
	b.send(100, "M G        0.0 lb")
	b.is(Moving, "is moving")
	b.send(7*60*60*10, empty)
	b.is(Stable, "0.0 lb")
	b.send(6000, still)
	b.is(Stable, "684.5 lb")
	b.send(1, still)
	b.is(Stuck, "has not moved off 684.5 lb for 10 min")
	b.send(1, empty)
	b.send(1, empty)
	b.is(Stable, "0.0 lb")
}

// Between two barrels a scale is seen to move. One damaged line is no motion, and what cannot be read says nothing of the load.
func TestMotionIsSeen(t *testing.T) {
	t.Parallel()
	b := newBench(t, marked(), "LB")
	movedTime := func() time.Time { return b.at(b.now).MovedTime }
	b.send(10, still)
	require.Zero(t, movedTime(), "it was never seen to move")
	for _, line := range []string{"S G      784.5 lb", moving, "hello", "O G ---------- lb", "S G      310.5 kg", "S N      640.0 lb"} {
		b.send(1, line)
		b.send(2, still)
		require.Zero(t, movedTime(), line)
	}
	b.send(5, "hello")
	b.send(5, "S G      310.5 kg")
	b.send(5, still)
	require.Zero(t, movedTime())

	b.doubt = "has not moved"
	b.is(Stuck, "has not moved")
	b.broken()
	b.send(10, still)
	b.is(Stuck, "has not moved")
	for _, line := range []string{moving, empty, "O G ---------- lb", "S G -      0.5 lb"} {
		before := movedTime()
		b.send(3, line)
		require.False(t, movedTime().Before(b.now.Add(-100*time.Millisecond)), line)
		require.True(t, movedTime().After(before))
		b.send(10, still)
		b.is(Stable, "684.5 lb")
	}
	// The next barrel weighs the same to the division, and was off the scale in between.
	b.send(2, empty)
	b.send(10, still)
	require.Equal(t, b.now.Add(-800*time.Millisecond), movedTime(), "the second line back at the weight: that is motion too")

	// What waited in a buffer over a silence is of another time.
	before := movedTime()
	b.now = b.now.Add(3 * time.Second)
	for range 50 {
		b.line([]byte(moving), b.now)
	}
	require.Equal(t, before, movedTime())
}

func TestWithoutAMarkTheWeightMustStandStill(t *testing.T) {
	t.Parallel()
	b := newBench(t, bare(), "KG")
	b.send(18, "\x02  310,5")
	b.is(Moving, "wait a moment")
	b.send(1, "\x02  310,5")
	b.is(Stable, "310.5 kg")
	b.send(1, "\x02  310,0")
	b.is(Moving, "wait a moment")
	b.send(15, "\x02  310,0")
	b.is(Stable, "310.0 kg")
	// Few lines are not enough however long they take.
	b = newBench(t, bare(), "KG")
	for range 5 {
		b.now = b.now.Add(1900 * time.Millisecond)
		b.line([]byte("\x02  310,5"), b.now)
	}
	b.is(Moving, "wait a moment")
	b.send(1, "\x02  310,5")
	b.is(Stable, "310.5 kg")
}

func TestTheScaleSetsLimits(t *testing.T) {
	t.Parallel()
	limits := Limits{Division: 500, Most: 1_050_000, Unit: "LB"}
	for _, c := range []struct {
		weight quantity.Mass
		before State
		after  State
	}{
		{684_500, Stable, Stable},
		{0, Stable, Stable},
		{1_050_000, Stable, Stable},
		{1_050_500, Stable, OverRange},
		{1_050_500, Moving, OverRange},
		{684_300, Stable, WrongDivision},
		{684_300, Moving, Moving},
		{684_300, Stuck, Stuck},
	} {
		i := Indication{State: c.before, Weighed: true, Weight: c.weight, Message: "m"}
		if c.before == Stable {
			i.StableSince = time.Unix(1, 0)
		}
		got := i.Within(limits)
		require.Equal(t, c.after, got.State, c.weight)
		require.Equal(t, c.before != c.after, got.Message != "m")
		require.Equal(t, c.after == Stable, !got.StableSince.IsZero())
	}
	require.Equal(t, "shows 684.3 lb, which cannot stand on a scale with steps of 0.5 lb: have the indicator or the division of the "+
		"scale put right", Indication{State: Stable, Weighed: true, Weight: 684_300}.Within(limits).Message)
}

func BenchmarkLine(b *testing.B) {
	t, err := newTracker(marked().withDefaults(), "LB")
	if err != nil {
		b.Fatal(err)
	}
	lines := make([][]byte, 64)
	for i := range lines {
		lines[i] = fmt.Appendf(nil, "M G %10s lb", quantity.Mass(i*500))
	}
	at := time.Unix(0, 0)
	b.ResetTimer()
	for i := range b.N {
		t.line(lines[i%len(lines)], at)
	}
}
