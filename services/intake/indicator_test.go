package intake_test

import (
	"context"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"barrelhead.example/deploy/certs"
	"barrelhead.example/deploy/scalesim"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/rpctest"
)

// wired is the part of a settings file that connects scale 2.
const wired = `{"listen": ":0", "tls": {"ca": "ca.pem", "cert": "c.pem", "key": "k.pem"}, "indicators": {"2": {
	"address": "tcp://ADDRESS",
	"pattern": "(?P<stable>[SMOU]) (?P<gross>[GN]) (?P<weight>[-+_ 0-9.]{10}) (?P<unit>[a-z]{2})",
	"stable_texts": ["S"], "motion_texts": ["M"], "over_range_texts": ["O"], "under_load_texts": ["U"],
	"gross_texts": ["G"], "net_texts": ["N"], "silent_after": "3s"
}}}`

func loadIndicators(t *testing.T, text string) (intake.Indicators, error) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "intake.json")
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	var cfg intake.Config
	err := config.Load(path, &cfg)
	return cfg.Indicators, err
}

func TestIndicatorsAreConfigured(t *testing.T) {
	t.Parallel()
	good := strings.Replace(wired, "ADDRESS", "10.0.0.5:4001", 1)
	read, err := loadIndicators(t, good)
	require.NoError(t, err)
	require.Equal(t, config.Duration(3*time.Second), read["2"].SilentAfter)

	bad := strings.NewReplacer("tcp://ADDRESS", "scale 2", `["M"]`, `["S"]`).Replace(wired)
	_, err = loadIndicators(t, bad)
	require.ErrorContains(t, err, `indicators.2.address is "scale 2", must be tcp://host:port`)
	require.ErrorContains(t, err, `indicators.2.stable_texts has "S", which motion_texts has too`)

	dir := t.TempDir()
	_, err = certs.Ensure(dir, certs.Names(), time.Now())
	require.NoError(t, err)
	cfg := settings(t, dir, "LB")
	cfg.Indicators = intake.Indicators{"2": {}}
	require.ErrorContains(t, intake.Run(t.Context(), cfg), "settings of the indicators: 2.address is missing")
}

// weighOnIt weighs a barrel with a captured weight, and not without one: the settings say that the scale sends its own.
func weighOnIt(t *testing.T, api intakev1.IntakeServiceClient, taken *intakev1.Indication) {
	t.Helper()
	office := rpctest.As(t.Context(), rpctest.Person("office1", accessv1.Role_ROLE_OFFICE))
	dock := rpctest.As(t.Context(), rpctest.Person("dock1", accessv1.Role_ROLE_DOCK))
	_, err := api.CreateMember(office, &intakev1.CreateMemberRequest{RequestId: uuid.NewString(), MemberNumber: "M-0001", DisplayName: "Hill apiary"})
	require.NoError(t, err)
	ticket, err := api.OpenTicket(dock, &intakev1.OpenTicketRequest{RequestId: uuid.NewString(), Member: "members/M-0001", CropYear: int32(time.Now().Year())})
	require.NoError(t, err)
	weighing := &intakev1.WeighBarrelRequest{
		RequestId: uuid.NewString(), Ticket: ticket.GetName(), DrumTag: "FC-00442", Variety: "clover", Gross: mass("684.5", "LB"), Tare: mass("42.0", "LB"),
		TareKind: intakev1.TareKind_TARE_KIND_STENCILLED, Scale: "scales/2", RawIndication: taken.GetRawIndication(), Stable: true,
	}
	_, err = api.WeighBarrel(dock, weighing)
	rpctest.Faults(t, err, "indication")
	weighing.Indication = taken.GetName()
	barrel, err := api.WeighBarrel(dock, weighing)
	require.NoError(t, err)
	require.Equal(t, "642.5", barrel.GetNet().GetValue())
}

func TestServiceReadsAnIndicator(t *testing.T) {
	t.Parallel()
	lis, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	scale := scalesim.NewScale(500, "lb")
	hub := scalesim.NewHub(scale, 10*time.Millisecond)
	ctx, cancel := context.WithCancel(context.Background())
	t.Cleanup(func() { cancel(); _ = lis.Close() })
	go hub.Accept(lis)
	go hub.Run(ctx)

	dir := t.TempDir()
	_, err = certs.Ensure(dir, certs.Names(), time.Now())
	require.NoError(t, err)
	cfg := settings(t, dir, "LB")
	cfg.Indicators, err = loadIndicators(t, strings.Replace(wired, "ADDRESS", lis.Addr().String(), 1))
	require.NoError(t, err)
	conn, stop := run(t, dir, cfg)
	admin := rpctest.As(t.Context(), rpctest.Person("admin1", accessv1.Role_ROLE_ADMINISTRATOR))
	dock := rpctest.As(t.Context(), rpctest.Person("dock1", accessv1.Role_ROLE_DOCK))
	_, err = intakev1.NewIntakeServiceClient(conn).CreateScale(admin, &intakev1.CreateScaleRequest{RequestId: uuid.NewString(), ScaleId: "2", Scale: &intakev1.Scale{
		Description: "Floor scale", Division: mass("0.5", "LB"), Capacity: mass("1000", "LB"), AccuracyClass: intakev1.AccuracyClass_ACCURACY_CLASS_III,
	}})
	require.NoError(t, err)
	scale.Put(684_500)
	client := intakev1.NewIndicatorServiceClient(conn)
	var taken *intakev1.Indication
	require.Eventually(t, func() bool {
		taken, err = client.CaptureIndication(dock, &intakev1.CaptureIndicationRequest{RequestId: uuid.NewString(), Scale: "scales/2"})
		return err == nil && taken.GetWeight().GetValue() == "684.5"
	}, 20*time.Second, 10*time.Millisecond)
	weighOnIt(t, intakev1.NewIntakeServiceClient(conn), taken)
	stop()
	require.Eventually(t, func() bool { return hub.Connections() == 0 }, 20*time.Second, 10*time.Millisecond, "nothing is left behind")
}
