package intake_test

import (
	"context"
	"encoding/json"
	"net"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"

	"barrelhead.example/deploy/certs"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/intake"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/pgtest"
	"barrelhead.example/services/kit/rpcdial"
	"barrelhead.example/services/kit/rpctest"
)

func settings(t *testing.T, dir, unit string) intake.Config {
	t.Helper()
	return intake.Config{Service: config.Service{
		Name: "intake", Listen: "127.0.0.1:0", LogLevel: "error", TLS: certs.Files(dir, "intake"),
		Database:    config.Database{URL: pgtest.URL(t, "intake")},
		Cooperative: config.Cooperative{Name: "Fallow Creek Honey Cooperative", Site: "FC", Unit: unit, Currency: "USD", TimeZone: "America/Chicago"},
	}}
}

// run serves until stop, and returns a connection of the gateway.
func run(t *testing.T, dir string, cfg intake.Config) (conn *grpc.ClientConn, stop func()) {
	t.Helper()
	lis, err := (&net.ListenConfig{}).Listen(t.Context(), "tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- intake.Serve(ctx, cfg, lis) }()
	conn, err = rpcdial.Dial(t.Context(), config.Service{
		Name: "gateway", TLS: certs.Files(dir, "gateway"), Peers: map[string]string{"intake": lis.Addr().String()},
	}, "intake", grpc.WithDefaultCallOptions(grpc.WaitForReady(true)))
	require.NoError(t, err)
	return conn, func() {
		require.NoError(t, conn.Close())
		cancel()
		require.NoError(t, <-ended)
	}
}

func mass(value, unit string) *typev1.Mass { return &typev1.Mass{Value: value, Unit: unit} }

func TestServiceKeepsEverythingOverARestart(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	_, err := certs.Ensure(dir, certs.Names(), time.Now())
	require.NoError(t, err)
	cfg := settings(t, dir, "KG")
	office := rpctest.As(t.Context(), rpctest.Person("office1", accessv1.Role_ROLE_OFFICE))
	dock := rpctest.As(t.Context(), rpctest.Person("dock1", accessv1.Role_ROLE_DOCK))
	admin := rpctest.As(t.Context(), rpctest.Person("admin1", accessv1.Role_ROLE_ADMINISTRATOR))

	conn, stop := run(t, dir, cfg)
	client := intakev1.NewIntakeServiceClient(conn)
	_, err = client.CreateMember(office, &intakev1.CreateMemberRequest{RequestId: uuid.NewString(), MemberNumber: "M-0001", DisplayName: "Hill apiary"})
	require.NoError(t, err)
	_, err = client.CreateScale(admin, &intakev1.CreateScaleRequest{RequestId: uuid.NewString(), ScaleId: "1", Scale: &intakev1.Scale{
		Description: "Pallet scale", Division: mass("0.2", "KG"), Capacity: mass("600", "KG"), AccuracyClass: intakev1.AccuracyClass_ACCURACY_CLASS_III,
	}})
	require.NoError(t, err)
	opening := &intakev1.OpenTicketRequest{RequestId: uuid.NewString(), Member: "members/M-0001", CropYear: int32(time.Now().Year())}
	ticket, err := client.OpenTicket(dock, opening)
	require.NoError(t, err)
	stop()

	conn, stop = run(t, dir, cfg)
	defer stop()
	client = intakev1.NewIntakeServiceClient(conn)
	again, err := client.OpenTicket(dock, opening)
	require.NoError(t, err)
	require.Equal(t, ticket.GetName(), again.GetName(), "a repeat after the restart gets the first answer")
	// 310.0 kg less 19.0 kg is 291 kg of honey, which is usual; 250 kg less 19 kg is not.
	weighing := &intakev1.WeighBarrelRequest{
		RequestId: uuid.NewString(), Ticket: ticket.GetName(), DrumTag: "FC-00001", Variety: "clover", Gross: mass("310.0", "KG"),
		Tare: mass("19.0", "KG"), TareKind: intakev1.TareKind_TARE_KIND_WEIGHED_EMPTY, Scale: "scales/1", Stable: true,
	}
	barrel, err := client.WeighBarrel(dock, weighing)
	require.NoError(t, err)
	require.Equal(t, "291.0", barrel.GetNet().GetValue())
	weighing.RequestId, weighing.DrumTag, weighing.Gross = uuid.NewString(), "FC-00002", mass("250.0", "KG")
	_, err = client.WeighBarrel(dock, weighing)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_REASON_REQUIRED, map[string]string{"low": "254.0", "high": "317.5"})

	log, err := feedv1.NewFeedAdminServiceClient(conn).VerifyLog(admin, &feedv1.VerifyLogRequest{})
	require.NoError(t, err)
	require.Empty(t, log.GetBrokenSequence())
}

func TestSettingsAreRead(t *testing.T) {
	t.Parallel()
	load := func(change func(map[string]any)) error {
		raw := map[string]any{
			"listen": ":0", "tls": map[string]string{"ca": "ca.pem", "cert": "c.pem", "key": "k.pem"},
			"usual_weights": map[string]any{"net": map[string]string{"low": "560", "high": "700"}, "tare": map[string]string{"low": "38", "high": "55"}},
		}
		change(raw)
		text, err := json.Marshal(raw)
		require.NoError(t, err)
		path := filepath.Join(t.TempDir(), "intake.json")
		require.NoError(t, os.WriteFile(path, text, 0o600))
		var cfg intake.Config
		return config.Load(path, &cfg)
	}
	require.NoError(t, load(func(map[string]any) {}))
	require.ErrorContains(t, load(func(raw map[string]any) {
		raw["usual_weights"] = map[string]any{"net": map[string]string{"low": "700", "high": "560"}, "tare": map[string]string{"low": "38", "high": "55"}}
	}), "usual net from 700.0 to 560.0")
}

func TestServiceRefusesToStartHalfConfigured(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	_, err := certs.Ensure(dir, certs.Names(), time.Now())
	require.NoError(t, err)
	for name, change := range map[string]func(*intake.Config){
		"no unit":   func(c *intake.Config) { c.Cooperative.Unit = "STONE" },
		"no zone":   func(c *intake.Config) { c.Cooperative.TimeZone = "Nowhere/Atall" },
		"no policy": func(c *intake.Config) { c.TareVariance = -1 },
		"no level":  func(c *intake.Config) { c.LogLevel = "loud" },
	} {
		cfg := settings(t, dir, "LB")
		change(&cfg)
		require.Error(t, intake.Run(t.Context(), cfg), name)
	}
}
