// Package e2e drives the whole suite through its public API only, against real PostgreSQL and over real sockets.
package e2e

import (
	"context"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/zap/zaptest"

	"barrelhead.example/deploy/local/suite"
	"barrelhead.example/deploy/season"
	"barrelhead.example/gateway"
	"barrelhead.example/migrations"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/pgtest"
	"barrelhead.example/services/settlement"
)

var fallowCreek = config.Cooperative{
	Name: "Fallow Creek Honey Cooperative", Site: "FC", Unit: "LB", Currency: "USD", TimeZone: "America/Chicago",
}

// valleyBank is invented; 021000021 is a published example of a valid routing number.
var valleyBank = settlement.Bank{Name: "Fallow Creek Honey", RoutingNumber: "021000021", BankName: "First Valley Bank", CompanyID: "1234567890"}

var refereeFee = settlement.RefereeFee{Amount: "85.00", Authority: "House rules of appeals, rule 4"}

// world is one running suite with its staff signed in.
type world struct {
	suite.Running
	crew   *season.Crew
	client *season.Client
	clock  *shiftedClock
	year   int32
}

// shiftedClock runs with the machine's, some days ahead of it. Only a program that starts the suite in its own process can
// give it one.
type shiftedClock struct{ ahead atomic.Int64 }

// Now is the time of the services.
func (c *shiftedClock) Now() time.Time { return time.Now().Add(time.Duration(c.ahead.Load())) }

func (c *shiftedClock) pass(days int) { c.ahead.Add(int64(time.Duration(days) * 24 * time.Hour)) }

// newWorld starts a suite on databases of its own and prepares a small cooperative in it.
func newWorld(t *testing.T, size season.Size) *world {
	t.Helper()
	clock := &shiftedClock{}
	running := start(t, clock)
	w := &world{
		Running: running, clock: clock,
		client: season.NewClient(running.URL, 3*time.Minute),
		year:   int32(time.Now().Year()),
	}
	require.NoError(t, gateway.CreateAdministrator(t.Context(), running.Services["gateway"], "admin", season.Password))
	w.crew = &season.Crew{Season: season.New(size, w.year), Lanes: 4}
	require.NoError(t, w.crew.Prepare(t.Context(), w.client, "admin", season.Password))
	return w
}

func start(t *testing.T, clock clock.Clock) suite.Running {
	t.Helper()
	databases := map[string]string{}
	for _, schema := range migrations.Schemas() {
		databases[schema] = pgtest.URL(t, schema)
	}
	ctx, stop := context.WithCancel(context.Background())
	ready, ended := make(chan suite.Running, 1), make(chan error, 1)
	o := suite.Options{
		Home: t.TempDir(), Databases: databases, Listen: "127.0.0.1:0", Cooperative: fallowCreek, Office: settlement.House{Bank: valleyBank, RefereeFee: refereeFee}, Clock: clock, Log: zaptest.NewLogger(t),
	}
	go func() {
		ended <- suite.Run(ctx, o, func(_ context.Context, r suite.Running) error {
			ready <- r
			return nil
		})
	}()
	t.Cleanup(func() {
		stop()
		require.NoError(t, <-ended)
	})
	select {
	case r := <-ready:
		return r
	case err := <-ended:
		ended <- nil
		require.NoError(t, err, "the suite did not start")
	case <-time.After(time.Minute):
		require.Fail(t, "the suite did not start within a minute")
	}
	return suite.Running{}
}

// session signs a login in, once for each test.
func (w *world) session(t *testing.T, login string) *season.Session {
	t.Helper()
	if s := w.crew.Session(login); s != nil {
		return s
	}
	s, err := w.client.SignIn(t.Context(), login, season.Password)
	require.NoError(t, err)
	return s
}
