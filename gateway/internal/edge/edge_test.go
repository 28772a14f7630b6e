package edge_test

import (
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"go.uber.org/zap"
	"go.uber.org/zap/zaptest/observer"

	"barrelhead.example/gateway/internal/edge"
	"barrelhead.example/gateway/internal/session"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/telemetry"
)

func wrap(t *testing.T, secure bool, proxies []string, next http.HandlerFunc) (http.Handler, *observer.ObservedLogs) {
	t.Helper()
	trusted, err := edge.ParseProxies(proxies)
	require.NoError(t, err)
	core, logs := observer.New(zap.InfoLevel)
	return edge.Wrap(next, edge.Options{
		Log: zap.New(core), Metrics: telemetry.New("gateway"), Tracer: telemetry.NoTraces().Tracer("test"), Clock: clock.System, Trusted: trusted, Secure: secure,
	}), logs
}

func TestWrap_BelievesForwardedAddressesOnlyFromItsProxies(t *testing.T) {
	t.Parallel()
	cases := []struct{ peer, forwarded, expected string }{
		{"192.0.2.7:4711", "", "192.0.2.7"},
		{"192.0.2.7:4711", "203.0.113.5", "192.0.2.7"},
		{"10.0.0.1:4711", "203.0.113.5", "203.0.113.5"},
		{"10.0.0.1:4711", "1.2.3.4, 203.0.113.5", "203.0.113.5"},
		{"10.0.0.1:4711", "1.2.3.4, 203.0.113.5, 10.0.0.9", "203.0.113.5"},
		{"10.0.0.1:4711", "nonsense", "10.0.0.1"},
		{"[2001:db8:1:2:3:4:5:6]:4711", "", "2001:db8:1:2::/64"},
		{"[::ffff:192.0.2.7]:4711", "", "192.0.2.7"},
	}
	for _, c := range cases {
		var seen string
		handler, _ := wrap(t, false, []string{"10.0.0.0/8"}, func(_ http.ResponseWriter, r *http.Request) { seen = edge.Address(r.Context()) })
		request := httptest.NewRequestWithContext(context.Background(), http.MethodGet, "/", nil)
		request.RemoteAddr = c.peer
		request.Header.Set("X-Forwarded-For", c.forwarded)
		handler.ServeHTTP(httptest.NewRecorder(), request)
		require.Equal(t, c.expected, seen, c)
	}
}

func TestWrap_GivesEveryRequestAnID(t *testing.T) {
	t.Parallel()
	var seen string
	handler, logs := wrap(t, true, nil, func(w http.ResponseWriter, r *http.Request) {
		seen = edge.RequestID(r.Context())
		w.WriteHeader(http.StatusTeapot)
	})
	for given, kept := range map[string]bool{"truck-14-lane-2": true, "": false, "short": false, "with\nnewline-in-it": false, strings.Repeat("x", 65): false} {
		request := httptest.NewRequestWithContext(context.Background(), http.MethodGet, "/me?secret=1", nil)
		request.Header["X-Request-Id"] = []string{given}
		answer := httptest.NewRecorder()
		handler.ServeHTTP(answer, request)
		require.Equal(t, kept, seen == given, given)
		require.Equal(t, seen, answer.Header().Get("X-Request-Id"))
		require.NotEmpty(t, answer.Header().Get("Strict-Transport-Security"))
	}
	for _, line := range logs.All() {
		require.Equal(t, "/me", line.ContextMap()["path"])
		require.Equal(t, int64(http.StatusTeapot), line.ContextMap()["status"])
	}
}

func TestWrap_SurvivesAPanic(t *testing.T) {
	t.Parallel()
	handler, logs := wrap(t, false, nil, func(http.ResponseWriter, *http.Request) { panic("the cause") })
	answer := httptest.NewRecorder()
	handler.ServeHTTP(answer, httptest.NewRequestWithContext(context.Background(), http.MethodGet, "/", nil))
	require.Equal(t, http.StatusInternalServerError, answer.Code)
	require.NotContains(t, answer.Body.String(), "the cause")
	require.Contains(t, answer.Body.String(), answer.Header().Get("X-Request-Id"))
	require.Equal(t, "the cause", logs.FilterMessage("request handler panicked").All()[0].ContextMap()["cause"])
	require.Empty(t, answer.Header().Get("Strict-Transport-Security"), "only where there is HTTPS")
}

func TestWrap_LimitsTheBody(t *testing.T) {
	t.Parallel()
	handler, _ := wrap(t, false, nil, func(w http.ResponseWriter, r *http.Request) {
		if _, err := io.ReadAll(r.Body); err != nil {
			w.WriteHeader(http.StatusRequestEntityTooLarge)
		}
	})
	for path, most := range map[string]int{
		"/": edge.MostBody, "/v1/heatStays/HR1:record": edge.MostBody, "/v1/tickets/readings": edge.MostBody, "/heat/new": edge.MostLog, "/v1/heatStays/HR1/readings": edge.MostLog,
	} {
		for size, status := range map[int]int{most: http.StatusOK, most + 1: http.StatusRequestEntityTooLarge} {
			answer := httptest.NewRecorder()
			handler.ServeHTTP(answer, httptest.NewRequestWithContext(context.Background(), http.MethodPost, path, strings.NewReader(strings.Repeat("x", size))))
			require.Equal(t, status, answer.Code, path)
		}
	}
}

func TestCookie_IsSecureWhereThereIsHTTPS(t *testing.T) {
	t.Parallel()
	keeper := session.New(nil, clock.System, session.DefaultPolicy())
	answer := httptest.NewRecorder()
	edge.NewDoor(keeper, true).GiveCookie(answer, "token")
	cookie := answer.Result().Cookies()[0]
	require.Equal(t, "__Host-barrelhead", cookie.Name)
	require.True(t, cookie.Secure)
	require.True(t, cookie.HttpOnly)
	require.Equal(t, http.SameSiteStrictMode, cookie.SameSite)
	require.Empty(t, cookie.Domain)
}

func TestParseProxies_NamesWhatIsNoNetwork(t *testing.T) {
	t.Parallel()
	_, err := edge.ParseProxies([]string{"10.0.0.1"})
	require.ErrorContains(t, err, `"10.0.0.1" is not a network`)
}
