package clock_test

import (
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/clock"
)

func TestFakeStandsStillUntilMoved(t *testing.T) {
	t.Parallel()
	start := time.Date(2026, time.September, 14, 8, 0, 0, 0, time.UTC)
	c := clock.NewFake(start)
	require.Equal(t, start, c.Now())
	require.Equal(t, start, c.Now())
	require.Equal(t, start.Add(time.Hour), c.Advance(time.Hour))
	c.Set(start.Add(-time.Minute))
	require.Equal(t, start.Add(-time.Minute), c.Now())
}

func TestFakeLosesNoConcurrentMove(t *testing.T) {
	t.Parallel()
	start := time.Date(2026, time.September, 14, 8, 0, 0, 0, time.UTC)
	c := clock.NewFake(start)
	var wg sync.WaitGroup
	for range 50 {
		wg.Go(func() { c.Advance(time.Second) })
	}
	wg.Wait()
	require.Equal(t, start.Add(50*time.Second), c.Now())
}

func TestSystemMovesForward(t *testing.T) {
	t.Parallel()
	before := time.Now()
	require.False(t, clock.System.Now().Before(before))
}

func TestTodayIsTheDateOfTheZone(t *testing.T) {
	t.Parallel()
	evening := time.FixedZone("five hours behind", -5*60*60)
	c := clock.NewFake(time.Date(2026, time.September, 15, 2, 30, 0, 0, time.UTC))
	require.Equal(t, "2026-09-14", clock.Today(c, evening))
	require.Equal(t, "2026-09-15", clock.Today(c, time.UTC))
}
