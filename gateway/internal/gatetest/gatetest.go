// Package gatetest runs the pages and the REST mapping against neighbours that answer from a small invented season, over
// real sockets with mutual TLS, and logins in a real database. For tests only.
package gatetest

import (
	"context"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/zap"
	"go.uber.org/zap/zaptest/observer"

	"barrelhead.example/gateway/internal/edge"
	"barrelhead.example/gateway/internal/paper"
	"barrelhead.example/gateway/internal/rest"
	"barrelhead.example/gateway/internal/session"
	"barrelhead.example/gateway/internal/web"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
	"barrelhead.example/services/kit/rpctest"
	"barrelhead.example/services/kit/telemetry"
)

// Password of every login of a world.
const Password = "three spoons of clover"

// Opening is when a world's clock stands at first: a Monday morning at the dock.
var Opening = time.Date(2026, 9, 14, 12, 5, 0, 0, time.UTC)

// Cooperative is the invented one of every example.
var Cooperative = config.Cooperative{
	Name: "Fallow Creek Honey Cooperative", Site: "FC", Unit: "LB", Currency: "USD", TimeZone: "America/Chicago",
}

// GS1Prefix is the company prefix GS1 demonstrates with, on the drums of the invented cooperative.
const GS1Prefix = "0614141"

// CheapCost keeps tests fast; what a real check costs is tested by itself.
var CheapCost = session.Cost{MemoryKiB: 64, Passes: 1}

// World is a running gateway without its process.
type World struct {
	// URL of the gateway.
	URL string
	// House answers for the four services and remembers what it was asked.
	House  *House
	Keeper *session.Keeper
	Clock  *clock.Fake
	DB     *pg.DB
	// Logs is what was logged.
	Logs *observer.ObservedLogs

	t testing.TB
}

// Logins of a world, by what they are for.
var Logins = map[string]session.Login{
	"dock1":      {Name: "dock1", Roles: []accessv1.Role{accessv1.Role_ROLE_DOCK}},
	"lab1":       {Name: "lab1", Roles: []accessv1.Role{accessv1.Role_ROLE_LAB}},
	"lead1":      {Name: "lead1", Roles: []accessv1.Role{accessv1.Role_ROLE_LAB_LEAD}},
	"warehouse1": {Name: "warehouse1", Roles: []accessv1.Role{accessv1.Role_ROLE_WAREHOUSE}},
	"line1":      {Name: "line1", Roles: []accessv1.Role{accessv1.Role_ROLE_LINE}},
	"office1":    {Name: "office1", Roles: []accessv1.Role{accessv1.Role_ROLE_OFFICE}},
	"treasurer1": {Name: "treasurer1", Roles: []accessv1.Role{accessv1.Role_ROLE_TREASURER}},
	"board1":     {Name: "board1", Roles: []accessv1.Role{accessv1.Role_ROLE_BOARD}},
	"auditor1":   {Name: "auditor1", Roles: []accessv1.Role{accessv1.Role_ROLE_AUDITOR}},
	"admin":      {Name: "admin", Roles: []accessv1.Role{accessv1.Role_ROLE_ADMINISTRATOR}},
	"logger1":    {Name: "logger1", Roles: []accessv1.Role{accessv1.Role_ROLE_LOGGER}},
	"juniper":    {Name: "juniper", Roles: []accessv1.Role{accessv1.Role_ROLE_MEMBER}, Member: "members/M-0012"},
	"sedge":      {Name: "sedge", Roles: []accessv1.Role{accessv1.Role_ROLE_MEMBER}, Member: "members/M-0007"},
}

// New starts a world.
func New(t testing.TB) *World {
	t.Helper()
	w := &World{t: t, House: NewHouse(), Clock: clock.NewFake(Opening), DB: pgtest.New(t, "gateway")}
	core, logs := observer.New(zap.DebugLevel)
	w.Logs = logs
	policy := session.DefaultPolicy()
	policy.Cost = CheapCost
	w.Keeper = session.New(w.DB, w.Clock, policy)
	w.URL = w.serve(zap.New(core))
	return w
}

func (w *World) serve(log *zap.Logger) string {
	conn := rpctest.New(w.t, w.House.Register).Gateway()
	services := rest.Services{Intake: conn, Grading: conn, Inventory: conn, Settlement: conn}
	door := edge.NewDoor(w.Keeper, false)
	api, err := rest.New(context.Background(), door, services)
	require.NoError(w.t, err)
	papers, err := paper.Over(api, paper.Options{Door: door, Services: services, Cooperative: Cooperative, Prefix: GS1Prefix, DisputeDays: 30, Log: log})
	require.NoError(w.t, err)
	pages, err := web.New(web.Options{Door: door, Services: services, Cooperative: Cooperative, Clock: w.Clock, Log: log, Papers: papers})
	require.NoError(w.t, err)
	mux := http.NewServeMux()
	mux.Handle("/v1/", papers)
	mux.Handle("/", pages)
	server := httptest.NewServer(edge.Wrap(mux, edge.Options{
		Log: log, Metrics: telemetry.New("gateway"), Tracer: telemetry.NoTraces().Tracer("test"), Clock: w.Clock,
	}))
	w.t.Cleanup(func() {
		server.Close()
		// A test that is over is kept, with what it cleaned up, until all beside it are: without this, the pages of every world at once.
		server.Config = nil
	})
	return server.URL
}

// Add makes logins by name.
func (w *World) Add(names ...string) {
	w.t.Helper()
	for _, name := range names {
		_, err := w.Keeper.Create(context.Background(), "operator", Logins[name], Password)
		require.NoError(w.t, err)
	}
}

// Token signs a login in as a program does, making it first.
func (w *World) Token(name string) string {
	w.t.Helper()
	w.Add(name)
	token, _, err := w.Keeper.SignIn(context.Background(), name, Password, "192.0.2.1")
	require.NoError(w.t, err)
	return token
}

// Browser signs a login in on the page, making it first, and returns a client that keeps the cookie and shows redirects.
func (w *World) Browser(name string) *http.Client {
	w.t.Helper()
	w.Add(name)
	jar, err := cookiejar.New(nil)
	require.NoError(w.t, err)
	client := &http.Client{Jar: jar, Timeout: 30 * time.Second, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	answer, err := client.PostForm(w.URL+"/sign-in", url.Values{"login": {name}, "password": {Password}})
	require.NoError(w.t, err)
	require.NoError(w.t, answer.Body.Close())
	require.Equal(w.t, http.StatusSeeOther, answer.StatusCode)
	return client
}
