package rpcserve_test

import (
	"context"
	"errors"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/dynamicpb"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/rpcserve"
	"barrelhead.example/services/kit/rpctest"
)

// enough bounds what should be immediate.
const enough = 20 * time.Second

func within(t *testing.T) context.Context {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), enough)
	t.Cleanup(cancel)
	return ctx
}

func follow(ctx context.Context, t *testing.T, conn *grpc.ClientConn) grpc.ClientStream {
	t.Helper()
	stream, err := conn.NewStream(ctx, &grpc.StreamDesc{ServerStreams: true}, followMethod)
	require.NoError(t, err)
	require.NoError(t, stream.SendMsg(weighing()))
	require.NoError(t, stream.CloseSend())
	return stream
}

func watch(ctx context.Context, t *testing.T, conn *grpc.ClientConn) grpc.ServerStreamingClient[healthv1.HealthCheckResponse] {
	t.Helper()
	watch, err := healthv1.NewHealthClient(conn).Watch(ctx, &healthv1.HealthCheckRequest{Service: kitService})
	require.NoError(t, err)
	return watch
}

func TestDrain_FinishesCallsTellsStreamsAndRefusesNewOnes(t *testing.T) {
	t.Parallel()
	weighingNow, finish := make(chan struct{}), make(chan struct{})
	var begun atomic.Bool
	k := kit{
		unary: func(context.Context, protoreflect.Message) (string, error) {
			if begun.Swap(true) {
				return "a later one", nil
			}
			close(weighingNow)
			<-finish
			return "642.5", nil
		},
		stream: func(s grpc.ServerStream) error {
			if err := s.SendMsg(answerOf("first")); err != nil {
				return err
			}
			select {
			case <-rpcserve.Draining(s.Context()):
				return apierr.Unavailable(errors.New("draining"))
			case <-s.Context().Done():
				return s.Context().Err()
			}
		},
	}
	s := rpctest.New(t, k.register)
	ctx := within(t)
	conn := s.As(rpctest.Person("dock1", dock))
	stream := follow(ctx, t, conn)
	require.NoError(t, stream.RecvMsg(dynamicpb.NewMessage(answerType)))
	health := watch(ctx, t, conn)
	state, err := health.Recv()
	require.NoError(t, err)
	require.Equal(t, healthv1.HealthCheckResponse_SERVING, state.GetStatus())

	answered := make(chan error, 1)
	go func() {
		_, err := call(ctx, conn, weighMethod, weighing())
		answered <- err
	}()
	<-weighingNow
	stopped := make(chan error, 1)
	go func() { stopped <- s.Stop() }()

	state, err = health.Recv()
	require.NoError(t, err)
	require.Equal(t, healthv1.HealthCheckResponse_NOT_SERVING, state.GetStatus(), "clients hear it first")
	err = stream.RecvMsg(dynamicpb.NewMessage(answerType))
	rpctest.Refused(t, err, codes.Unavailable, errorv1.Reason_REASON_UNAVAILABLE, nil)
	require.NotZero(t, apierr.Parse(err).RetryAfter)
	select {
	case err := <-stopped:
		t.Fatalf("stopped with a call in flight: %v", err)
	default:
	}
	// A call that arrives before the connection is told to close is still answered; soon none is taken any more.
	for err = nil; err == nil; {
		_, err = call(ctx, conn, openMethod, weighing(), grpc.WaitForReady(false))
	}
	require.Equal(t, codes.Unavailable, apierr.Parse(err).Code)

	close(finish)
	require.NoError(t, <-answered, "the call in flight got its answer")
	require.NoError(t, <-stopped)
}

// TestDrain_LingersForThoseWhoDoNotWatch: between NOT_SERVING and the end, calls are answered as before and streams are
// not told yet.
func TestDrain_LingersForThoseWhoDoNotWatch(t *testing.T) {
	t.Parallel()
	const linger = 2 * time.Second
	k := kit{
		unary: func(context.Context, protoreflect.Message) (string, error) { return "642.5", nil },
		stream: func(s grpc.ServerStream) error {
			<-rpcserve.Draining(s.Context())
			return apierr.Unavailable(errors.New("draining"))
		},
	}
	s := rpctest.New(t, k.register, func(o *rpcserve.Options) { o.Linger = linger })
	ctx := within(t)
	// Without the health check, as a caller behind a balancer that asks now and then.
	conn := s.Dial("gateway", grpc.WithDefaultServiceConfig(`{}`))
	stream, err := conn.NewStream(rpctest.As(ctx, rpctest.Person("dock1", dock)), &grpc.StreamDesc{ServerStreams: true}, followMethod)
	require.NoError(t, err)
	require.NoError(t, stream.SendMsg(weighing()))
	require.NoError(t, stream.CloseSend())
	told := make(chan error, 1)
	go func() { told <- stream.RecvMsg(dynamicpb.NewMessage(answerType)) }()
	health := watch(ctx, t, s.AsService("grading"))
	state, err := health.Recv()
	require.NoError(t, err)
	require.Equal(t, healthv1.HealthCheckResponse_SERVING, state.GetStatus())

	began := time.Now()
	stopped := make(chan error, 1)
	go func() { stopped <- s.Stop() }()
	state, err = health.Recv()
	require.NoError(t, err)
	require.Equal(t, healthv1.HealthCheckResponse_NOT_SERVING, state.GetStatus())
	_, err = call(ctx, conn, openMethod, weighing(), grpc.WaitForReady(false))
	require.NoError(t, err, "who has not heard yet is still served")
	select {
	case err := <-told:
		require.Fail(t, "the stream ended before the linger was over", "%v", err)
	default:
	}
	require.Equal(t, codes.Unavailable, apierr.Parse(<-told).Code)
	require.GreaterOrEqual(t, time.Since(began), linger)
	require.NoError(t, <-stopped)
}

func TestDrain_IsCapped(t *testing.T) {
	t.Parallel()
	following := make(chan struct{})
	k := kit{stream: func(s grpc.ServerStream) error { // one that does not listen to Draining
		close(following)
		<-s.Context().Done()
		return s.Context().Err()
	}}
	s := rpctest.New(t, k.register, func(o *rpcserve.Options) { o.StopWithin = 50 * time.Millisecond })
	stream := follow(within(t), t, s.As(rpctest.Person("dock1", dock)))
	<-following
	require.NoError(t, s.Stop())
	require.Error(t, stream.RecvMsg(dynamicpb.NewMessage(answerType)))
}

func TestDrain_IsCappedEvenForACallThatNeverEnds(t *testing.T) {
	t.Parallel()
	stuck, release := make(chan struct{}), make(chan struct{})
	k := kit{unary: func(context.Context, protoreflect.Message) (string, error) { // deaf to its context too
		close(stuck)
		<-release
		return "", nil
	}}
	s := rpctest.New(t, k.register, func(o *rpcserve.Options) { o.StopWithin = 50 * time.Millisecond })
	defer close(release)
	ctx, conn := within(t), s.As(rpctest.Person("dock1", dock))
	answered := make(chan error, 1)
	go func() {
		_, err := call(ctx, conn, weighMethod, weighing(), grpc.WaitForReady(false))
		answered <- err
	}()
	<-stuck
	stopped := make(chan error, 1)
	go func() { stopped <- s.Stop() }()
	select {
	case err := <-stopped:
		require.NoError(t, err)
	case <-ctx.Done():
		require.Fail(t, "the cap did not hold")
	}
	require.Error(t, <-answered)
}

func TestDraining_OutsideACallNeverCloses(t *testing.T) {
	t.Parallel()
	require.Nil(t, rpcserve.Draining(context.Background()))
}

func TestHealth_FollowsTheDatabaseAndIsLoggedOnChange(t *testing.T) {
	t.Parallel()
	var fault atomic.Pointer[error]
	log, lines := observed()
	s := rpctest.New(t, whoami.register, func(o *rpcserve.Options) {
		o.Log = log
		o.HealthEvery = 5 * time.Millisecond
		o.Health = func(context.Context) error {
			if err := fault.Load(); err != nil {
				return *err
			}
			return nil
		}
	})
	ctx := within(t)
	health := watch(ctx, t, s.AsService("grading"))
	next := func() healthv1.HealthCheckResponse_ServingStatus {
		state, err := health.Recv()
		require.NoError(t, err)
		return state.GetStatus()
	}
	require.Equal(t, healthv1.HealthCheckResponse_SERVING, next())
	away := errors.New("the database is away")
	fault.Store(&away)
	require.Equal(t, healthv1.HealthCheckResponse_NOT_SERVING, next())

	_, err := call(ctx, s.AsService("inventory"), weighMethod, weighing(), grpc.WaitForReady(false))
	require.Equal(t, codes.Unavailable, apierr.Parse(err).Code, "clients keep away from a service that is not healthy")

	fault.Store(nil)
	require.Equal(t, healthv1.HealthCheckResponse_SERVING, next())
	require.NoError(t, s.Stop())
	require.Len(t, lines.FilterMessage("not healthy").All(), 1, "once, though asked many times")
	require.Len(t, lines.FilterMessage("healthy").All(), 2, "at the start and again")
}

func TestDeadline_TooLittleLeftIsRefusedUnstarted(t *testing.T) {
	t.Parallel()
	var started atomic.Bool
	k := kit{unary: func(context.Context, protoreflect.Message) (string, error) {
		started.Store(true)
		return "", nil
	}}
	s := rpctest.New(t, k.register)
	conn := s.As(rpctest.Person("dock1", dock))
	_, err := call(within(t), conn, openMethod, weighing())
	require.NoError(t, err, "warm the connection, or the time passes in the handshake")
	started.Store(false)

	ctx, cancel := context.WithTimeout(context.Background(), 90*time.Millisecond)
	defer cancel()
	_, err = call(ctx, conn, weighMethod, weighing())
	require.Equal(t, codes.DeadlineExceeded, apierr.Parse(err).Code)
	require.NoError(t, s.Stop())
	require.False(t, started.Load())
}
