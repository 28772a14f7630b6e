package indicator_test

import (
	"context"
	"maps"
	"math/rand/v2"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/zap"
	"go.uber.org/zap/zaptest/observer"

	"barrelhead.example/deploy/scalesim"
	"barrelhead.example/services/intake/internal/indicator"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/quantity"
)

const (
	enough    = 30 * time.Second
	lookEvery = 2 * time.Millisecond
)

var floorScale = indicator.Limits{Division: 500, Most: 1_050_000, Unit: quantity.LB}

func settings(address string) indicator.Settings {
	return indicator.Settings{
		Address: address, Pattern: scalesim.Pattern, StableTexts: []string{"S"}, MotionTexts: []string{"M"}, OverTexts: []string{"O"},
		UnderTexts: []string{"U"}, GrossTexts: []string{"G"}, NetTexts: []string{"N"},
		SilentAfter: config.Duration(400 * time.Millisecond), StuckAfter: config.Duration(300 * time.Millisecond),
	}
}

// rig is a simulated scale and a reader of it.
type rig struct {
	t      *testing.T
	scale  *scalesim.Scale
	hub    *scalesim.Hub
	reader *indicator.Reader
	// plug brings the connection back after hub.Unplug.
	plug func()
}

// start simulates a scale that sends a line each time every passes, and reads it.
func start(t *testing.T, transport string, every time.Duration) *rig {
	t.Helper()
	g := &rig{t: t, scale: scalesim.NewScale(500, "lb")}
	g.hub = scalesim.NewHub(g.scale, every)
	var address string
	switch transport {
	case "tcp":
		lis, err := net.Listen("tcp", "127.0.0.1:0")
		require.NoError(t, err)
		t.Cleanup(func() { _ = lis.Close() })
		go g.hub.Accept(lis)
		address, g.plug = "tcp://"+lis.Addr().String(), func() { g.hub.Unplug(false) }
	case "serial":
		link := filepath.Join(t.TempDir(), "scale")
		address, g.plug = "serial://"+link+"?baud=9600&parity=n", func() {
			g.hub.Unplug(false)
			port, err := scalesim.OpenPort(link)
			require.NoError(t, err)
			g.hub.Connect(port)
		}
		g.plug()
	}
	g.reader = g.read(settings(address))
	g.run(g.hub.Run)
	return g
}

func (g *rig) read(s indicator.Settings) *indicator.Reader {
	g.t.Helper()
	r, err := indicator.New(s, quantity.LB, clock.System, zap.NewNop())
	require.NoError(g.t, err)
	g.run(r.Run)
	return r
}

// run runs work until the test ends, and sees to it that it ends.
func (g *rig) run(work func(context.Context)) {
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan struct{})
	go func() { defer close(ended); work(ctx) }()
	g.t.Cleanup(func() {
		cancel()
		select {
		case <-ended:
		case <-time.After(enough):
			g.t.Error("does not end when told to")
		}
	})
}

func (g *rig) latest() indicator.Indication { return g.reader.Latest().Within(floorScale) }

// until waits for a state whose message holds say.
func (g *rig) until(state indicator.State, say string) indicator.Indication {
	g.t.Helper()
	look := time.NewTicker(lookEvery)
	defer look.Stop()
	for late := time.After(enough); ; {
		got := g.latest()
		if got.State == state && strings.Contains(got.Message, say) {
			return got
		}
		select {
		case <-look.C:
		case <-late:
			require.FailNow(g.t, "not seen in time", "%s %q; it is %s %q", state, say, got.State, got.Message)
		}
	}
}

func (g *rig) play(script string) {
	g.t.Helper()
	require.NoError(g.t, g.hub.Play(g.t.Context(), strings.NewReader(script)))
}

func onBoth(t *testing.T, test func(t *testing.T, transport string)) {
	for _, transport := range []string{"tcp", "serial"} {
		t.Run(transport, func(t *testing.T) { t.Parallel(); test(t, transport) })
	}
}

func TestABarrelIsWeighed(t *testing.T) {
	t.Parallel()
	onBoth(t, func(t *testing.T, transport string) {
		g := start(t, transport, 5*time.Millisecond)
		g.until(indicator.Stable, "stands still at 0.0 lb")
		g.play("put 684.5")
		g.until(indicator.Moving, "is moving: wait until it stands still")
		got := g.until(indicator.Stable, "stands still at 684.5 lb")
		require.Equal(t, "S G      684.5 lb", got.Raw)
		require.Equal(t, quantity.Mass(684_500), got.Weight)
		require.True(t, got.Captured(got.ReceiveTime))
		require.False(t, got.StableSince.After(got.ReceiveTime))
	})
}

func TestWhatIsWrongIsTold(t *testing.T) {
	t.Parallel()
	onBoth(t, func(t *testing.T, transport string) {
		g := start(t, transport, 5*time.Millisecond)
		for _, c := range []struct {
			script string
			state  indicator.State
			say    string
		}{
			{"over", indicator.OverRange, "take the load off"},
			{"under", indicator.UnderLoad, "set it to zero"},
			{"garbage", indicator.Unreadable, "cannot be read"},
			{"endless", indicator.Unreadable, "without the end of a line; check the terminator"},
			{"half", indicator.Unreadable, "does not have the form"},
			{"healthy\nshow kg", indicator.WrongUnit, "shows kg, and the cooperative weighs in lb"},
			{"show lb\ntare", indicator.Net, "clear the tare"},
			{"gross\nput -20", indicator.UnderLoad, "less than nothing"},
			{"put 1060", indicator.OverRange, "1,060.0 lb, more than it may (1,050.0 lb)"},
			{"put 684.5\nsettle", indicator.Stable, "684.5 lb"},
			{"jammed\nput 300", indicator.Stuck, "the same moving weight"},
			{"healthy\nsettle", indicator.Stable, "300.0 lb"},
			{"silence", indicator.Silent, "has sent nothing for 0 s"},
		} {
			g.play(c.script)
			g.until(c.state, c.say)
		}
		// After a long silence the connection itself is in doubt. A new one is as silent.
		g.until(indicator.Disconnected, "nothing was sent for a long time")
		g.until(indicator.Silent, "has sent nothing yet")
		g.play("healthy")
		g.until(indicator.Stable, "300.0 lb")
	})
}

func TestALostConnectionComesBack(t *testing.T) {
	t.Parallel()
	onBoth(t, func(t *testing.T, transport string) {
		g := start(t, transport, 5*time.Millisecond)
		g.play("put 684.5")
		g.until(indicator.Stable, "684.5 lb")
		g.play("unplug")
		lost := g.until(indicator.Disconnected, "it is tried again by itself")
		require.False(t, lost.Captured(time.Now()))
		g.play("put 40\nsettle")
		g.plug()
		g.until(indicator.Stable, "40.0 lb")
	})
}

// A clerk who presses the key at any moment gets a load that was put on, or nothing.
func TestNoWeightBetweenLoadsIsEverTaken(t *testing.T) {
	t.Parallel()
	onBoth(t, func(t *testing.T, transport string) {
		g := start(t, transport, 2*time.Millisecond)
		loads := []quantity.Mass{684_500, 0, 47_000, 703_000, 702_500, 690_000, 0, 1_050_000}
		for _, load := range loads {
			g.scale.Put(load)
			require.Eventually(t, func() bool {
				got := g.latest()
				if !got.Captured(time.Now()) {
					return false
				}
				require.True(t, slices.Contains(loads, got.Weight), "%s was never put on", got.Weight)
				require.True(t, strings.HasPrefix(got.Raw, "S G "), got.Raw)
				return got.Weight == load
			}, enough, lookEvery)
		}
	})
}

// Everything goes wrong at once and as fast as the line carries it: half lines, noise, other units, cut connections, loads that
// come and go. Somebody presses the key all the while, and gets a load that was put on and stood still, or nothing.
func TestNothingFalseIsTakenWhateverIsSent(t *testing.T) {
	t.Parallel()
	g := start(t, "tcp", 0)
	loads := map[quantity.Mass]bool{0: true}
	for i := range 40 {
		loads[quantity.Mass(40_000+i*16_500)] = true
	}
	begin, first := time.Now(), g.reader.Lines()
	chaos := rand.New(rand.NewPCG(7, 11))
	on := slices.Sorted(maps.Keys(loads))
	faults := []string{"half", "garbage", "endless", "show kg", "tare", "over", "under", "jammed", "frozen", "disconnect", "unplug\nwait 20ms\nplug", "silence"}
	taken, seen := map[quantity.Mass]bool{}, 0
	for time.Since(begin) < 4*time.Second || len(taken) < 10 {
		require.Less(t, time.Since(begin), enough)
		g.scale.Put(on[chaos.IntN(len(on))])
		if chaos.IntN(2) == 0 {
			g.play(faults[chaos.IntN(len(faults))] + "\nwait 5ms")
		}
		g.play("healthy\nshow lb\ngross")
		for look := time.Now(); time.Since(look) < time.Duration(20+chaos.IntN(600))*time.Millisecond; {
			got := g.latest()
			if !got.Captured(time.Now()) {
				continue
			}
			require.True(t, loads[got.Weight], "%s was never put on: %q", got.Weight, got.Raw)
			require.Regexp(t, `^S G [ 0-9.]{10} lb$`, got.Raw)
			taken[got.Weight], seen = true, seen+1
		}
	}
	lines := g.reader.Lines() - first
	t.Logf("%d lines, %.0f a second; %d of %d loads taken in %d looks", lines, float64(lines)/time.Since(begin).Seconds(), len(taken), len(loads), seen)
}

// A scale that is off overnight says so once.
func TestAnIndicatorThatIsOffIsLoggedOnce(t *testing.T) {
	t.Parallel()
	core, lines := observer.New(zap.InfoLevel)
	r, err := indicator.New(settings("serial:///dev/no-such-scale"), quantity.LB, clock.System, zap.New(core))
	require.NoError(t, err)
	ctx, cancel := context.WithTimeout(t.Context(), time.Second)
	defer cancel()
	r.Run(ctx)
	require.Equal(t, 1, lines.Len())
	require.Equal(t, "there is no such port", lines.All()[0].ContextMap()["reason"])
	require.Equal(t, "serial:///dev/no-such-scale", lines.All()[0].ContextMap()["indicator"])
}

// The rate is printed and not asserted: it is the machine's.
func TestAHundredThousandLinesAreRead(t *testing.T) {
	t.Parallel()
	g := start(t, "tcp", 0)
	g.play("put 684.5")
	g.until(indicator.Stable, "684.5 lb")
	begin, first := time.Now(), g.reader.Lines()
	const many = 100_000
	require.Eventually(t, func() bool { return g.reader.Lines() >= first+many }, enough, lookEvery)
	took := time.Since(begin)
	t.Logf("%d lines in %s: %.0f a second", many, took, many/took.Seconds())
	g.until(indicator.Stable, "684.5 lb")
	g.play("put 40")
	g.until(indicator.Stable, "40.0 lb")
}

func TestPortsThatCannotBeRead(t *testing.T) {
	t.Parallel()
	g := start(t, "serial", 5*time.Millisecond)
	g.until(indicator.Stable, "0.0 lb")
	paper := filepath.Join(t.TempDir(), "paper")
	require.NoError(t, os.WriteFile(paper, nil, 0o600))
	link := filepath.Join(t.TempDir(), "second")
	port, err := scalesim.OpenPort(link)
	require.NoError(t, err)
	t.Cleanup(func() { _ = port.Close() })
	lis, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	require.NoError(t, lis.Close())
	for address, say := range map[string]string{
		"serial:///dev/no-such-scale":     "there is no such port",
		"serial://" + paper:               "it is no serial port",
		"tcp://" + lis.Addr().String():    "nothing answers at its address",
		"tcp://scale.invalid:4001":        "its name is not known on the network",
		"serial://" + filepath.Dir(paper): "it is no serial port",
	} {
		g.reader = g.read(settings(address))
		g.until(indicator.Disconnected, say)
	}
	first := g.read(settings("serial://" + link))
	require.Eventually(t, func() bool { return first.Latest().State == indicator.Silent }, enough, lookEvery)
	g.reader = g.read(settings("serial://" + link))
	g.until(indicator.Disconnected, "another program reads the port")
}
