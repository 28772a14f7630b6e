package gateway_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptrace"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/zap"
	"google.golang.org/grpc"

	"barrelhead.example/deploy/certs"
	"barrelhead.example/gateway"
	"barrelhead.example/gateway/internal/gatetest"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/pgtest"
	"barrelhead.example/services/kit/rpcserve"
)

const password = "three spoons of clover"

// suite is a gateway as Serve runs it, with four neighbours that show certificates of their own.
type suite struct {
	cfg   gateway.Config
	url   string
	house *gatetest.House
	stop  context.CancelFunc
	ended chan error
}

func listen(t *testing.T) net.Listener {
	t.Helper()
	lis, err := (&net.ListenConfig{}).Listen(t.Context(), "tcp", "127.0.0.1:0")
	require.NoError(t, err)
	return lis
}

func start(t *testing.T, change func(*gateway.Config)) *suite {
	t.Helper()
	dir := t.TempDir()
	_, err := certs.Ensure(dir, certs.Names(), time.Now())
	require.NoError(t, err)
	s := &suite{house: gatetest.NewHouse(), ended: make(chan error, 1)}
	peers := map[string]string{}
	for _, name := range []string{"intake", "grading", "inventory", "settlement"} {
		peers[name] = neighbour(t, dir, name, s.house)
	}
	s.cfg = gateway.Config{Service: config.Service{
		Name: "gateway", LogLevel: "error", Database: config.Database{URL: pgtest.URL(t, "gateway")}, TLS: certs.Files(dir, "gateway"), Peers: peers,
		Cooperative: gatetest.Cooperative,
	}}
	if change != nil {
		change(&s.cfg)
	}
	lis := listen(t)
	s.url = "http://" + lis.Addr().String()
	ctx, stop := context.WithCancel(context.Background())
	s.stop = stop
	go func() { s.ended <- gateway.Serve(ctx, s.cfg, lis) }()
	t.Cleanup(stop)
	s.awaitReady(t)
	return s
}

// neighbour runs one service that lets nobody in but the gateway.
func neighbour(t *testing.T, dir, name string, house *gatetest.House) string {
	t.Helper()
	lis := listen(t)
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() {
		ended <- rpcserve.Serve(ctx, rpcserve.Options{
			Config: config.Service{Name: name, TLS: certs.Files(dir, name)}, Log: zap.NewNop(),
			Allow: map[string][]string{
				"barrelhead.intake.v1.IntakeService": {"gateway"}, "barrelhead.intake.v1.IndicatorService": {"gateway"}, "barrelhead.intake.v1.DockTermsService": {"gateway"}, "barrelhead.grading.v1.GradingService": {"gateway"},
				"barrelhead.inventory.v1.InventoryService": {"gateway"}, "barrelhead.inventory.v1.WarehouseRecordsService": {"gateway"}, "barrelhead.inventory.v1.PackingService": {"gateway"}, "barrelhead.inventory.v1.SalesService": {"gateway"}, "barrelhead.inventory.v1.WriteOffService": {"gateway"}, "barrelhead.settlement.v1.SettlementService": {"gateway"},
				"barrelhead.settlement.v1.MemberAccountService": {"gateway"}, "barrelhead.settlement.v1.PoolSalesService": {"gateway"},
			},
		}, lis, func(r grpc.ServiceRegistrar) { house.Register(r) })
	}()
	t.Cleanup(func() {
		stop()
		require.NoError(t, <-ended)
	})
	return lis.Addr().String()
}

func (s *suite) awaitReady(t *testing.T) {
	t.Helper()
	require.Eventually(t, func() bool {
		select {
		case err := <-s.ended:
			s.ended <- err
			require.NoError(t, err, "the gateway ended")
		default:
		}
		answer, err := http.Get(s.url + "/readyz")
		return err == nil && answer.Body.Close() == nil && answer.StatusCode == http.StatusOK
	}, time.Minute, 20*time.Millisecond)
}

// call sends JSON and returns status and answer.
func (s *suite) call(t *testing.T, method, path, token string, body any) (int, map[string]any) {
	t.Helper()
	content, err := json.Marshal(body)
	require.NoError(t, err)
	request, err := http.NewRequestWithContext(t.Context(), method, s.url+path, bytes.NewReader(content))
	require.NoError(t, err)
	request.Header.Set("Content-Type", "application/json")
	request.Header.Set("Authorization", "Bearer "+token)
	answer, err := http.DefaultClient.Do(request)
	require.NoError(t, err)
	defer func() { require.NoError(t, answer.Body.Close()) }()
	var read map[string]any
	require.NoError(t, json.NewDecoder(answer.Body).Decode(&read))
	return answer.StatusCode, read
}

func (s *suite) signIn(t *testing.T, login string) string {
	t.Helper()
	status, read := s.call(t, "POST", "/v1/sessions", "", map[string]string{"login": login, "password": password})
	require.Equal(t, http.StatusOK, status, read)
	return fmt.Sprint(read["token"])
}

func TestServe_FromTheFirstAdministratorToAMembersCent(t *testing.T) {
	t.Parallel()
	s := start(t, nil)
	for range 2 {
		require.NoError(t, gateway.CreateAdministrator(t.Context(), s.cfg.Service, "admin", password), "repeating it changes nothing")
	}
	admin := s.signIn(t, "admin")
	status, read := s.call(t, "POST", "/v1/logins", admin, map[string]any{"login": "m-0012", "password": password, "roles": []string{"MEMBER"}, "member": gatetest.Juniper})
	require.Equal(t, http.StatusOK, status, read)
	member := s.signIn(t, "m-0012")
	status, read = s.call(t, "GET", "/v1/payouts/"+gatetest.PayoutID, member, nil)
	require.Equal(t, http.StatusOK, status, read)
	require.Equal(t, map[string]any{"amount": "683.03", "currency_code": "USD"}, read["net_amount"])
	status, _ = s.call(t, "GET", "/v1/payouts/"+gatetest.SedgePayoutID, member, nil)
	require.Equal(t, http.StatusNotFound, status)
	status, read = s.call(t, "GET", "/v1/payouts/"+gatetest.PayoutID, admin, nil)
	require.Equal(t, http.StatusForbidden, status, "an administrator has no say in money")
	require.Contains(t, fmt.Sprint(read), "NOT_ALLOWED")

	s.stop()
	require.NoError(t, <-s.ended, "an orderly end is no error")
	_, err := http.Get(s.url + "/healthz") //nolint:bodyclose // nobody answers
	require.Error(t, err)
}

func TestServe_FinishesWhatIsInFlight(t *testing.T) {
	t.Parallel()
	s := start(t, nil)
	require.NoError(t, gateway.CreateAdministrator(t.Context(), s.cfg.Service, "admin", password))
	body, feed := io.Pipe()
	reading := make(chan struct{})
	// The server says "100 Continue" when the handler begins to read the body: from then on the request is in flight.
	traced := httptrace.WithClientTrace(t.Context(), &httptrace.ClientTrace{Got100Continue: func() { close(reading) }})
	request, err := http.NewRequestWithContext(traced, http.MethodPost, s.url+"/v1/sessions", body)
	require.NoError(t, err)
	request.Header.Set("Content-Type", "application/json")
	request.Header.Set("Expect", "100-continue")
	client := &http.Client{Transport: &http.Transport{ExpectContinueTimeout: time.Minute}}
	answered := make(chan int, 1)
	go func() {
		answer, err := client.Do(request)
		if err != nil {
			answered <- 0
			return
		}
		_ = answer.Body.Close()
		answered <- answer.StatusCode
	}()
	<-reading
	s.stop()
	require.Eventually(t, func() bool {
		conn, err := net.Dial("tcp", s.url[len("http://"):])
		return err != nil || conn.Close() != nil
	}, 10*time.Second, 10*time.Millisecond, "no new callers")
	_, err = fmt.Fprintf(feed, `{"login":"admin","password":%q}`, password)
	require.NoError(t, err)
	require.NoError(t, feed.Close())
	require.Equal(t, http.StatusOK, <-answered)
	require.NoError(t, <-s.ended)
}

func TestServe_SaysWhetherItIsReady(t *testing.T) {
	t.Parallel()
	debug := listen(t)
	address := debug.Addr().String()
	require.NoError(t, debug.Close())
	s := start(t, func(c *gateway.Config) { c.DebugListen = address })
	for _, path := range []string{s.url + "/healthz", s.url + "/readyz", "http://" + address + "/readyz", "http://" + address + "/metrics"} {
		answer, err := http.Get(path)
		require.NoError(t, err, path)
		require.Equal(t, http.StatusOK, answer.StatusCode, path)
		content, err := io.ReadAll(answer.Body)
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		if filepath.Base(path) == "metrics" {
			require.Contains(t, string(content), `barrelhead_gateway_http_handled_total{area="health",code="200"}`)
		}
	}
	pgtest.Exec(t, "gateway", `DELETE FROM migration`)
	require.Eventually(t, func() bool {
		answer, err := http.Get(s.url + "/readyz")
		return err == nil && answer.Body.Close() == nil && answer.StatusCode == http.StatusServiceUnavailable
	}, 30*time.Second, 50*time.Millisecond, "an older schema is not ready")
}

func TestServe_RefusesToTakePasswordsInTheClear(t *testing.T) {
	t.Parallel()
	lis, err := (&net.ListenConfig{}).Listen(t.Context(), "tcp", "0.0.0.0:0")
	require.NoError(t, err)
	err = gateway.Serve(t.Context(), gateway.Config{}, lis)
	require.ErrorContains(t, err, "passwords could be read on the way")
	_, err = lis.Accept()
	require.ErrorIs(t, err, net.ErrClosed)
}

func TestServe_SaysWhatIsMissing(t *testing.T) {
	t.Parallel()
	cfg := gateway.Config{Service: config.Service{
		Database: config.Database{URL: pgtest.URL(t, "gateway")}, Cooperative: gatetest.Cooperative, TLS: certs.Files(t.TempDir(), "gateway"),
	}}
	require.ErrorContains(t, gateway.Serve(t.Context(), cfg, listen(t)), "dial intake")
}

func TestConfig_IsCheckedAsAWhole(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "gateway.json")
	require.NoError(t, os.WriteFile(path, []byte(`{
		"listen": ":8420", "transport": "pigeon", "https": {"cert": "x"}, "trusted_proxies": ["home"], "session_idle": "2h",
		"peers": {"intake": "dns:///intake:7101"}, "tls": {"ca": "a", "cert": "b", "key": "c"}, "sesion_most": "1h"}`), 0o600))
	var cfg gateway.Config
	err := config.Load(path, &cfg)
	for _, fault := range []string{"transport is \"pigeon\"", "https needs both", "trusted_proxies", "peers.grading is missing", "peers.settlement is missing", "sesion_most is not a setting"} {
		require.ErrorContains(t, err, fault)
	}
	require.NotContains(t, err.Error(), "peers.intake")
	require.Equal(t, 2*time.Hour, time.Duration(cfg.SessionIdle))
}

// The first administrator's password may come from a file or a pipe, with or without an end of line.
func TestReadAdministrator_TakesTheFirstLine(t *testing.T) {
	t.Parallel()
	s := start(t, nil)
	for login, text := range map[string]string{"ada": password + "\n", "bea": password + "\r\nand more\n", "cleo": password} {
		file := filepath.Join(t.TempDir(), "password")
		require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
		in, err := os.Open(file)
		require.NoError(t, err)
		require.NoError(t, gateway.ReadAdministrator(t.Context(), s.cfg.Service, login, in))
		require.NoError(t, in.Close())
		require.NotEmpty(t, s.signIn(t, login))
		require.ErrorContains(t, gateway.ReadAdministrator(t.Context(), s.cfg.Service, login, in), "read the password of "+login)
	}
}
