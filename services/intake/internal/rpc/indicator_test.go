package rpc_test

import (
	"context"
	"net"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/zap"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	"barrelhead.example/deploy/scalesim"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/app"
	"barrelhead.example/services/intake/internal/indicator"
	"barrelhead.example/services/intake/internal/rpc"
	"barrelhead.example/services/intake/internal/store"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/rpcserve"
	"barrelhead.example/services/kit/rpctest"
)

// platform is a dock whose scale 2 has an indicator; scale 1 has none.
type platform struct {
	*dock
	hub     *scalesim.Hub
	address string
	server  *rpctest.Server
	clerk   intakev1.IndicatorServiceClient
}

func onPlatform(t *testing.T) *platform {
	t.Helper()
	p := &platform{dock: ready(t), hub: scalesim.NewHub(scalesim.NewScale(500, "lb"), 5*time.Millisecond)}
	p.newScale("1")
	lis, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	t.Cleanup(func() { _ = lis.Close() })
	go p.hub.Accept(lis)
	p.address = lis.Addr().String()
	p.app.Indicated = map[string]bool{"2": true}
	ctx, cancel := context.WithCancel(context.Background())
	t.Cleanup(cancel)
	go p.hub.Run(ctx)
	p.server = p.replica()
	p.clerk = intakev1.NewIndicatorServiceClient(p.server.As(rpctest.Person("dock1", accessv1.Role_ROLE_DOCK)))
	return p
}

// replica reads the indicator for itself, as every replica of the service does.
func (p *platform) replica() *rpctest.Server {
	p.t.Helper()
	readers, err := indicator.NewSet(indicator.Book{"2": {
		Address: "tcp://" + p.address, Pattern: scalesim.Pattern, StableTexts: []string{"S"}, MotionTexts: []string{"M"},
		OverTexts: []string{"O"}, UnderTexts: []string{"U"}, GrossTexts: []string{"G"}, NetTexts: []string{"N"},
	}}, quantity.LB, clock.System, zap.NewNop())
	require.NoError(p.t, err)
	ctx, cancel := context.WithCancel(context.Background())
	p.t.Cleanup(cancel)
	go readers.Run(ctx)
	a := &app.App{Store: store.Store{}, Clock: clock.System, Zone: p.app.Zone, Unit: quantity.LB, CaptureAge: p.app.CaptureAge}
	return rpctest.New(p.t, func(r grpc.ServiceRegistrar) {
		intakev1.RegisterIndicatorServiceServer(r, rpc.NewIndicator(a, p.db, readers, rpcserve.Draining))
	})
}

func (p *platform) play(script string) {
	p.t.Helper()
	require.NoError(p.t, p.hub.Play(p.t.Context(), strings.NewReader(script)))
}

func (p *platform) watch() grpc.ServerStreamingClient[intakev1.Indication] {
	p.t.Helper()
	stream, err := p.clerk.WatchIndication(p.t.Context(), &intakev1.WatchIndicationRequest{Scale: "scales/2"})
	require.NoError(p.t, err)
	return stream
}

// until reads the stream up to a message.
func (p *platform) until(stream grpc.ServerStreamingClient[intakev1.Indication], message string) *intakev1.Indication {
	p.t.Helper()
	for {
		got, err := stream.Recv()
		require.NoError(p.t, err)
		require.Equal(p.t, "scales/2", got.GetScale())
		require.NotZero(p.t, got.GetState())
		if got.GetMessage() == message {
			return got
		}
	}
}

func (p *platform) capture(scale string) (*intakev1.Indication, error) {
	return p.clerk.CaptureIndication(p.t.Context(), &intakev1.CaptureIndicationRequest{RequestId: id(), Scale: scale})
}

// A barrel is put on, captured and weighed with what the indicator sent.
func TestACapturedWeightIsWeighed(t *testing.T) {
	t.Parallel()
	p := onPlatform(t)
	stream := p.watch()
	p.until(stream, "scale 2 stands still at 0.0 lb")
	p.play("put 684.5")
	p.until(stream, "scale 2 is moving: wait until it stands still")
	p.until(stream, "scale 2 stands still at 684.5 lb")
	got, err := p.capture("scales/2")
	require.NoError(t, err)
	require.Equal(t, intakev1.IndicationState_INDICATION_STATE_STABLE, got.GetState())
	require.Equal(t, "684.5", got.GetWeight().GetValue())
	require.Equal(t, "LB", got.GetWeight().GetUnit())
	require.Equal(t, "S G      684.5 lb", got.GetRawIndication())
	require.Less(t, got.GetAgeMilliseconds(), int64(1000))
	require.False(t, got.GetStableSinceTime().AsTime().After(got.GetReceiveTime().AsTime()))

	require.Regexp(t, "^scales/2/indications/[0-9a-f-]{36}$", got.GetName())
	require.Equal(t, "users/dock1", got.GetCapturer())

	// What the clerk's page says of the line and of standing still does not count.
	ticket := p.open("M-0007")
	weighing := captured(ticket, "FC-00442", got)
	weighing.RawIndication, weighing.Stable = "M G      999.5 lb", false
	barrel, err := p.dock.clerk.WeighBarrel(t.Context(), weighing)
	require.NoError(t, err)
	require.Equal(t, "684.5", barrel.GetGross().GetValue())
	require.Equal(t, "642.5", barrel.GetNet().GetValue())
	require.Equal(t, got.GetRawIndication(), barrel.GetRawIndication())
	require.Equal(t, got.GetName(), barrel.GetIndication())
	require.False(t, barrel.GetManual())
	require.True(t, proto.Equal(barrel, p.barrel(barrel.GetName())), "the answer is what is read later")
	again, err := p.dock.clerk.WeighBarrel(t.Context(), weighing)
	require.NoError(t, err)
	require.True(t, proto.Equal(barrel, again), "sent twice, weighed once")
	listed, err := p.clerk.ListIndications(t.Context(), &intakev1.ListIndicationsRequest{Scale: "scales/2"})
	require.NoError(t, err)
	require.Len(t, listed.GetIndications(), 1)
	require.Equal(t, barrel.GetName(), listed.GetIndications()[0].GetBarrel())
	require.Equal(t, got.GetRawIndication(), listed.GetIndications()[0].GetRawIndication())
}

func TestWhatDoesNotCountIsNotCaptured(t *testing.T) {
	t.Parallel()
	p := onPlatform(t)
	stream := p.watch()
	p.until(stream, "scale 2 stands still at 0.0 lb")
	for _, c := range []struct {
		script  string
		code    codes.Code
		reason  errorv1.Reason
		state   string
		message string
	}{
		{"jammed\nput 684.5", codes.InvalidArgument, errorv1.Reason_REASON_UNSTABLE_READING, "MOVING", "scale 2 is moving: wait until it stands still"},
		{"over", codes.FailedPrecondition, errorv1.Reason_REASON_STATE_FORBIDS, "OVER_RANGE", "scale 2 shows more than it can weigh: take the load off"},
		{"under", codes.FailedPrecondition, errorv1.Reason_REASON_STATE_FORBIDS, "UNDER_LOAD", "scale 2 shows less than nothing: take everything off and set it to zero"},
		{"healthy\nshow kg", codes.FailedPrecondition, errorv1.Reason_REASON_STATE_FORBIDS, "WRONG_UNIT", "scale 2 shows kg, and the cooperative weighs in lb: switch the indicator to lb"},
		{"show lb\ntare", codes.FailedPrecondition, errorv1.Reason_REASON_STATE_FORBIDS, "NET", "scale 2 subtracts a tare of its own: clear the tare on the indicator, the gross weight is wanted"},
		{"gross\nhalf", codes.Unavailable, errorv1.Reason_REASON_UNAVAILABLE, "UNREADABLE", "scale 2 sent a line that cannot be read: it does not have the form in the settings"},
		{"healthy\nunplug", codes.Unavailable, errorv1.Reason_REASON_UNAVAILABLE, "DISCONNECTED", ""},
	} {
		p.play(c.script)
		if c.message != "" {
			seen := p.until(stream, c.message)
			require.Equal(t, "INDICATION_STATE_"+c.state, seen.GetState().String())
		}
		var err error
		require.Eventually(t, func() bool { _, err = p.capture("scales/2"); return apierr.Parse(err).Metadata["state"] == c.state },
			20*time.Second, 5*time.Millisecond, c.state)
		got := rpctest.Refused(t, err, c.code, c.reason, map[string]string{"scale": "scales/2"})
		if c.message != "" {
			require.Equal(t, c.message, got.Message)
		}
	}
}

func TestScalesWithoutAnIndicator(t *testing.T) {
	t.Parallel()
	p := onPlatform(t)
	_, err := p.capture("scales/1")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": "scales/1", "state": "NO_INDICATOR"})
	_, err = p.capture("scales/9")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "scales/9"})
	_, err = p.capture("2")
	rpctest.Faults(t, err, "scale")
	for scale, reason := range map[string]errorv1.Reason{"scales/1": errorv1.Reason_REASON_STATE_FORBIDS, "scales/9": errorv1.Reason_REASON_NOT_FOUND} {
		stream, err := p.clerk.WatchIndication(t.Context(), &intakev1.WatchIndicationRequest{Scale: scale})
		require.NoError(t, err)
		_, err = stream.Recv()
		rpctest.RefusedAs(t, err, reason, nil)
	}
}

func TestAWatchIsCalmAndEndsWithTheService(t *testing.T) {
	t.Parallel()
	p := onPlatform(t)
	stream := p.watch()
	begin := time.Now()
	p.until(stream, "scale 2 stands still at 0.0 lb")
	// 200 lines a second that all say the same are told once a second.
	for range 2 {
		_, err := stream.Recv()
		require.NoError(t, err)
	}
	require.Greater(t, time.Since(begin), 1500*time.Millisecond)
	// A load that swings changes with every line, and is told ten times a second.
	begin = time.Now()
	told := 0
	p.play("put 684.5")
	for message := ""; message != "scale 2 stands still at 684.5 lb"; told++ {
		got, err := stream.Recv()
		require.NoError(t, err)
		message = got.GetMessage()
	}
	require.Less(t, told, int(time.Since(begin)/(100*time.Millisecond))+4)
	stopped := make(chan error, 1)
	go func() { stopped <- p.server.Stop() }()
	var err error
	for err == nil {
		_, err = stream.Recv()
	}
	rpctest.Refused(t, err, codes.Unavailable, errorv1.Reason_REASON_UNAVAILABLE, nil)
	require.NoError(t, <-stopped)
}

func TestWhoMayReadAnIndicator(t *testing.T) {
	t.Parallel()
	rpctest.Matrix(t, onPlatform(t).server.Gateway(), intakev1.IndicatorService_ServiceDesc.ServiceName)
}

func TestEveryStateIsInTheContract(t *testing.T) {
	t.Parallel()
	for _, s := range []indicator.State{
		indicator.Stable, indicator.Moving, indicator.Stuck, indicator.OverRange, indicator.UnderLoad, indicator.Disconnected,
		indicator.Silent, indicator.Unreadable, indicator.WrongUnit, indicator.WrongDivision, indicator.Net,
	} {
		require.Contains(t, intakev1.IndicationState_value, "INDICATION_STATE_"+string(s))
	}
	require.Len(t, intakev1.IndicationState_value, 12)
}
