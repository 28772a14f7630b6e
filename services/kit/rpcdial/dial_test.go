package rpcdial_test

import (
	"context"
	"net"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/types/dynamicpb"

	"barrelhead.example/deploy/certs"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/rpcdial"
	"barrelhead.example/services/kit/rpctest"
)

func TestTarget(t *testing.T) {
	t.Parallel()
	for address, target := range map[string]string{
		"127.0.0.1:7101":          "passthrough:///127.0.0.1:7101",
		"[::1]:7101":              "passthrough:///[::1]:7101",
		"intake:7101":             "dns:///intake:7101",
		"dns:///intake.coop:7101": "dns:///intake.coop:7101",
		"unix:///run/intake.sock": "unix:///run/intake.sock",
	} {
		require.Equal(t, target, rpcdial.Target(address))
	}
}

func TestDial_SaysWhatIsMissing(t *testing.T) {
	t.Parallel()
	_, err := rpcdial.Dial(context.Background(), config.Service{}, "intake")
	require.ErrorContains(t, err, "no address")
	_, err = rpcdial.Dial(context.Background(), config.Service{Peers: map[string]string{"intake": "127.0.0.1:1"}}, "intake")
	require.ErrorContains(t, err, "dial intake")
	_, err = rpcdial.All(context.Background(), config.Service{}, []string{"intake", "grading"})
	require.Error(t, err)
}

// TestSafe_OnEveryRPCOfTheSuite holds whatever the contracts say: a stream is never repeated, and a unary RPC is exactly
// when it reads or carries a request_id.
func TestSafe_OnEveryRPCOfTheSuite(t *testing.T) {
	t.Parallel()
	verdicts := map[string]bool{}
	for _, rule := range access.Matrix() {
		verdicts[rule.Method] = rpcdial.Safe(rule)
		streams := rule.Descriptor.IsStreamingServer() || rule.Descriptor.IsStreamingClient()
		keyed := rule.Descriptor.Input().Fields().ByName("request_id") != nil
		require.False(t, streams && rpcdial.Safe(rule), rule.Method)
		require.True(t, streams || !keyed || rpcdial.Safe(rule), rule.Method)
	}
	require.False(t, verdicts[feedv1.FeedService_Watch_FullMethodName])
	require.True(t, verdicts[intakev1.IntakeService_CloseTicket_FullMethodName])
	require.True(t, verdicts[intakev1.IntakeService_GetTicket_FullMethodName])
	require.True(t, verdicts[gradingv1.GradingService_ListStandards_FullMethodName])
}

// flaky answers every RPC of a service: UNAVAILABLE as often as told, then an empty answer.
type flaky struct {
	refuse atomic.Int32
	calls  atomic.Int32
}

func (f *flaky) register(service string) func(grpc.ServiceRegistrar) {
	return func(r grpc.ServiceRegistrar) {
		desc := grpc.ServiceDesc{ServiceName: service, HandlerType: (*any)(nil)}
		for _, rule := range access.Matrix() {
			if rule.Service == service && !rule.Descriptor.IsStreamingServer() {
				desc.Methods = append(desc.Methods, f.method(rule))
			}
		}
		r.RegisterService(&desc, f)
	}
}

func (f *flaky) method(rule access.Rule) grpc.MethodDesc {
	return grpc.MethodDesc{MethodName: string(rule.Descriptor.Name()), Handler: func(_ any, _ context.Context, decode func(any) error, _ grpc.UnaryServerInterceptor) (any, error) {
		if err := decode(dynamicpb.NewMessage(rule.Descriptor.Input())); err != nil {
			return nil, err
		}
		f.calls.Add(1)
		if f.refuse.Add(-1) >= 0 {
			return nil, apierr.Unavailable(nil)
		}
		return dynamicpb.NewMessage(rule.Descriptor.Output()), nil
	}}
}

func within(t *testing.T) context.Context {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	t.Cleanup(cancel)
	return ctx
}

func TestDial_RepeatsWhatIsSafe(t *testing.T) {
	t.Parallel()
	const service = "barrelhead.intake.v1.IntakeService"
	f := &flaky{}
	s := rpctest.New(t, f.register(service))
	conn := s.As(rpctest.Person("dock1", accessv1.Role_ROLE_DOCK))

	f.refuse.Store(3)
	require.NoError(t, conn.Invoke(within(t), intakev1.IntakeService_GetTicket_FullMethodName, &intakev1.GetTicketRequest{}, &intakev1.Ticket{}))
	require.EqualValues(t, 4, f.calls.Load())

	f.refuse.Store(4)
	err := conn.Invoke(within(t), intakev1.IntakeService_GetTicket_FullMethodName, &intakev1.GetTicketRequest{}, &intakev1.Ticket{})
	require.Equal(t, codes.Unavailable, apierr.Parse(err).Code, "four times and no more")
	require.EqualValues(t, 8, f.calls.Load())
}

func TestDial_TheServerMustBeWhoItIsCalled(t *testing.T) {
	t.Parallel()
	s := rpctest.New(t, (&flaky{}).register("barrelhead.intake.v1.IntakeService"))
	// The server under test shows the certificate of intake.
	conn, err := rpcdial.Dial(context.Background(), config.Service{
		TLS: certs.Files(s.Dir, "gateway"), Peers: map[string]string{"settlement": s.Address},
	}, "settlement")
	require.NoError(t, err)
	defer func() { require.NoError(t, conn.Close()) }()
	err = conn.Invoke(within(t), intakev1.IntakeService_GetTicket_FullMethodName, &intakev1.GetTicketRequest{}, &intakev1.Ticket{})
	require.Equal(t, codes.Unavailable, apierr.Parse(err).Code)
	require.ErrorContains(t, err, "settlement")
}

func TestDial_FindsANeighbourThatStartsLater(t *testing.T) {
	t.Parallel()
	lis, err := (&net.ListenConfig{}).Listen(context.Background(), "tcp", "127.0.0.1:0")
	require.NoError(t, err)
	address := lis.Addr().String()
	require.NoError(t, lis.Close())

	f := &flaky{}
	s := rpctest.New(t, f.register("barrelhead.intake.v1.IntakeService"))
	conn, err := rpcdial.Dial(context.Background(), config.Service{
		TLS: certs.Files(s.Dir, "gateway"), Peers: map[string]string{"intake": address},
	}, "intake")
	require.NoError(t, err)
	defer func() { require.NoError(t, conn.Close()) }()
	ctx := rpctest.As(within(t), rpctest.Person("dock1", accessv1.Role_ROLE_DOCK))
	err = conn.Invoke(ctx, intakev1.IntakeService_GetTicket_FullMethodName, &intakev1.GetTicketRequest{}, &intakev1.Ticket{})
	require.Equal(t, codes.Unavailable, apierr.Parse(err).Code, "nobody is there yet")

	go relay(t, address, s.Address)
	err = conn.Invoke(ctx, intakev1.IntakeService_GetTicket_FullMethodName, &intakev1.GetTicketRequest{}, &intakev1.Ticket{}, grpc.WaitForReady(true))
	require.NoError(t, err)
}

// relay starts to listen on address and passes one connection on to target.
func relay(t *testing.T, address, target string) {
	ctx, cancel := context.WithCancel(context.Background())
	t.Cleanup(cancel)
	lis, err := (&net.ListenConfig{}).Listen(ctx, "tcp", address)
	if err != nil {
		t.Errorf("listen again: %v", err)
		return
	}
	context.AfterFunc(ctx, func() { _ = lis.Close() })
	for {
		here, err := lis.Accept()
		if err != nil {
			return
		}
		there, err := (&net.Dialer{}).DialContext(ctx, "tcp", target)
		if err != nil {
			_ = here.Close()
			return
		}
		context.AfterFunc(ctx, func() { _, _ = here.Close(), there.Close() })
		go pass(here, there)
		go pass(there, here)
	}
}

func pass(from, to net.Conn) {
	buffer := make([]byte, 16<<10)
	for {
		n, err := from.Read(buffer)
		if _, failed := to.Write(buffer[:n]); err != nil || failed != nil {
			_, _ = from.Close(), to.Close()
			return
		}
	}
}
