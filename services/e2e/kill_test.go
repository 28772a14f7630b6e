package e2e

import (
	"context"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"barrelhead.example/deploy/season"
	"barrelhead.example/gateway"
)

// TestKill works a season while every process of the suite, and PostgreSQL, is killed again and again. Afterwards the
// books must be those of a season in which nothing happened: nothing acknowledged lost, nothing doubled.
func TestKill(t *testing.T) {
	t.Parallel()
	size := season.Size{Members: 9, Barrels: 40}
	calm := newWorld(t, size)
	require.NoError(t, calm.crew.Work(t.Context(), calm.client, "admin", season.Password))
	want := settled(t, calm.crew)

	p := startProcesses(t)
	year := int32(time.Now().Year())
	crew := &season.Crew{Season: season.New(size, year), Lanes: 4}
	client := season.NewClient("http://"+p.settings["gateway"].Listen, 5*time.Minute)
	require.NoError(t, gateway.CreateAdministrator(t.Context(), p.settings["gateway"], "admin", season.Password))

	worked := make(chan error, 1)
	go func() { worked <- crew.Work(t.Context(), client, "admin", season.Password) }()
	victims := append(slices.Clone(names), "postgres")
	// On a machine so busy that nobody comes up again between two kills, the season would stand still: every round is calmer.
	pause := 1500 * time.Millisecond
	for i, busy := 0, true; busy; i++ {
		if i > 0 && i%len(victims) == 0 {
			pause = min(pause*3/2, 10*time.Second)
		}
		select {
		case err := <-worked:
			require.NoError(t, err)
			busy = false
		case <-time.After(pause):
			p.kill(t, victims[i%len(victims)])
		}
	}
	for _, name := range victims {
		require.NotZero(t, p.killed[name], "%s was never killed while the season went on", name)
	}
	t.Logf("killed: %v", p.killed)
	require.Equal(t, want, settled(t, crew))

	// Everything sent once more, as by a client that never saw an answer, changes nothing.
	require.NoError(t, crew.Work(t.Context(), client, "admin", season.Password))
	require.Equal(t, want, settled(t, crew))
}

// books are what a season came to, free of names that chance gives.
type books struct {
	Members map[string]string
	Grand   string
}

func settled(t *testing.T, crew *season.Crew) books {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	defer cancel()
	report, err := crew.Settled(ctx, time.Minute)
	require.NoError(t, err)
	require.NoError(t, crew.AddUp(ctx, report))
	difference, err := report.Difference()
	require.NoError(t, err)
	require.Zero(t, difference)
	b := books{Members: map[string]string{}, Grand: report.Grand.GetNetAmount().GetAmount()}
	for _, m := range report.Totals {
		b.Members[m.GetMember()] = m.GetNet().GetValue() + " " + m.GetPayable().GetValue() + " " + m.GetNetAmount().GetAmount()
	}
	return b
}
