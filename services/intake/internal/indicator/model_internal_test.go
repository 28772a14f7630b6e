package indicator

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/zap"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/clock"
)

// heard is a line, or as much as is taken of one that is too long, and when it was there.
type heard struct {
	text string
	at   time.Time
}

// tape is everything that ever arrived, and when each byte did.
type tape struct {
	text string
	at   []time.Time
}

func (p *tape) add(text string, at time.Time) {
	p.text += text
	for range len(text) {
		p.at = append(p.at, at)
	}
}

// lines splits the whole tape anew each time. What came before the first end is no whole line.
func (p *tape) lines() []heard {
	var all []heard
	parts := strings.Split(p.text, "\r\n")
	begin := len(parts[0]) + 2
	for i, part := range parts[1:] {
		whole := i < len(parts)-2
		switch {
		case len(part) >= 102 || (len(part) > 100 && whole):
			all = append(all, heard{"too long", p.at[begin+101]})
		case whole:
			all = append(all, heard{part, p.at[begin+len(part)+1]})
		}
		begin += len(part) + 2
	}
	return all
}

// mayTake is the rule said plainly, over all that was ever sent: the newest line and the one before show one and the same
// gross weight in pounds that stands still, at the division and not above 1050; the newest is fresh; and the one before is
// not from the first moment after a silence.
func (p *tape) mayTake(now time.Time) bool {
	all := p.lines()
	if len(all) < 2 {
		return false
	}
	last, before := all[len(all)-1], all[len(all)-2]
	woke := all[0].at
	for i := 1; i < len(all); i++ {
		if all[i].at.Sub(all[i-1].at) >= 2*time.Second {
			woke = all[i].at
		}
	}
	return last.text == before.text && slices.Contains([]string{still, empty, "S G     1050.0 lb"}, last.text) &&
		now.Sub(last.at) < time.Second && before.at.Sub(woke) >= 250*time.Millisecond
}

var vocabulary = []string{
	still, still, still, still, still, empty, moving, "M G      310.0 lb", "S G     1050.0 lb", "S G     1050.5 lb", "S G      684.3 lb",
	"S G -      0.5 lb", "S N      640.0 lb", "S G      310.5 kg", "O G ---------- lb", "U G __________ lb", "? G      684.5 lb", "",
	"S G      684.5 lb ", "\xff\x00", "S G      684.5 lb\r", strings.Repeat("S G      684.5 lb", 9), strings.Repeat(".", 101), strings.Repeat(".", 101) + still,
}

var dockScale = Limits{Division: 500, Most: 1_050_000, Unit: "LB"}

// The reader takes a weight exactly when the rule lets it, whatever is sent and however the bytes are cut up on the way.
func TestNeverTakesAWeightThatDoesNotStandStill(t *testing.T) {
	t.Parallel()
	taken, refused := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		fake := clock.NewFake(time.Date(2026, time.September, 14, 8, 0, 0, 0, time.UTC))
		r, err := New(marked(), "LB", fake, zap.NewNop())
		require.NoError(t, err)
		r.connected = true
		cut := newFramer(r.settings)
		var sent tape
		waiting := "the middle of a line\r\n"
		for range rapid.IntRange(1, 60).Draw(t, "sends") {
			fake.Advance(time.Duration(rapid.SampledFrom([]int{0, 1, 50, 100, 130, 300, 999, 1000, 1999, 2000}).Draw(t, "ms")) * time.Millisecond)
			waiting += strings.Repeat(rapid.SampledFrom(vocabulary).Draw(t, "line")+"\r\n", rapid.IntRange(1, 3).Draw(t, "times"))
			n := len(waiting)
			if rapid.Bool().Draw(t, "cut") {
				n = rapid.IntRange(0, n).Draw(t, "bytes")
			}
			r.take(cut, []byte(waiting[:n]))
			sent.add(waiting[:n], fake.Now())
			waiting = waiting[n:]

			now := fake.Now()
			got := r.Latest().Within(dockScale)
			require.Equal(t, sent.mayTake(now), got.Captured(now), "%s: %s", got.State, got.Message)
			if !got.Captured(now) {
				refused++
				continue
			}
			taken++
			all := sent.lines()
			require.Equal(t, all[len(all)-1].text, got.Raw, "kept as it was")
			require.Equal(t, strings.TrimSpace(got.Raw[4:14]), got.Weight.String())
		}
	})
	require.NotZero(t, taken)
	require.NotZero(t, refused)
}

// Whatever is sent: no panic, no more memory than one line, and a weight is only ever what the last two lines both say.
func FuzzBytes(f *testing.F) {
	f.Add([]byte("84.5 lb\r\n"+strings.Repeat(still+"\r\n", 4)), uint8(3))
	f.Add([]byte(moving+"\r\n"+still+"\r\n"+still), uint8(1))
	f.Add([]byte(strings.Repeat("x", 1000)+"\r\n"+still+"\r\n"), uint8(200))
	f.Add([]byte("\r\r\n\n\x00\xff\r\nS G \xb5\r\n"), uint8(2))
	f.Fuzz(func(t *testing.T, sent []byte, step uint8) {
		fake := clock.NewFake(time.Date(2026, time.September, 14, 8, 0, 0, 0, time.UTC))
		r, err := New(marked(), "LB", fake, zap.NewNop())
		require.NoError(t, err)
		r.connected = true
		cut := newFramer(r.settings)
		for begin := 0; begin < len(sent); begin += int(step) + 1 {
			fake.Advance(300 * time.Millisecond)
			end := min(begin+int(step)+1, len(sent))
			r.take(cut, sent[begin:end])
			require.LessOrEqual(t, cap(cut.buf), 2*(100+2+1))
			got := r.Latest().Within(dockScale)
			require.NotEmpty(t, got.Message)
			if got.Captured(fake.Now()) {
				lines := strings.Split(string(sent[:end]), "\r\n")
				require.Greater(t, len(lines), 3)
				require.Equal(t, lines[len(lines)-2], got.Raw)
				require.Regexp(t, `^S G [ 0-9.+-]+ lb$`, got.Raw)
				require.Regexp(t, `^S G [ 0-9.+-]+ lb$`, lines[len(lines)-3])
			}
		}
	})
}
