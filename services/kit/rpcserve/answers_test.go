package rpcserve_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"
	"go.uber.org/zap"
	"go.uber.org/zap/zapcore"
	"go.uber.org/zap/zaptest/observer"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/dynamicpb"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/rpcserve"
	"barrelhead.example/services/kit/rpctest"
)

func observed() (*zap.Logger, *observer.ObservedLogs) {
	core, lines := observer.New(zapcore.DebugLevel)
	return zap.New(core), lines
}

func methodField(method string) zap.Field { return zap.String("method", method) }

func failing(err error) kit {
	return kit{
		unary:  func(context.Context, protoreflect.Message) (string, error) { return "", err },
		stream: func(grpc.ServerStream) error { return err },
	}
}

func TestShape_AllFaultsAtOnceInPlainWords(t *testing.T) {
	t.Parallel()
	s := rpctest.New(t, whoami.register)
	conn := s.As(rpctest.Person("dock1", dock))
	_, err := call(within(t), conn, weighMethod, weighing("drum", "", "gross_value", "642.5555", "unit", "STONE", "count", int32(12)))
	got := rpctest.Faults(t, err, "drum", "gross_value", "unit", "count")
	require.Equal(t, "FIELD_INVALID", got.Reason)
	require.Equal(t, []apierr.Fault{
		{Field: "drum", Message: "is missing"},
		{Field: "gross_value", Message: `is "642.5555", must be a decimal number with at most 12 digits before and 3 after the point`},
		{Field: "unit", Message: `is "STONE", must be one of LB, KG`},
		{Field: "count", Message: "is 12, must be at least 0 and at most 9"},
	}, got.Faults)

	stream, err := conn.NewStream(within(t), &grpc.StreamDesc{ServerStreams: true}, followMethod)
	require.NoError(t, err)
	require.NoError(t, stream.SendMsg(weighing("drum", "", "count", int32(-1))))
	require.NoError(t, stream.CloseSend())
	rpctest.Faults(t, stream.RecvMsg(dynamicpb.NewMessage(answerType)), "drum", "count")
}

func TestShape_NoTextTheDatabaseCannotHold(t *testing.T) {
	t.Parallel()
	s := rpctest.New(t, whoami.register)
	_, err := call(within(t), s.As(rpctest.Person("dock1", dock)), weighMethod, weighing("drum", "FC-\x0017", "gross_value", "642.5", "unit", "LB"))
	got := rpctest.Faults(t, err, "drum")
	require.Equal(t, []apierr.Fault{{Field: "drum", Message: "must not hold a NUL character"}}, got.Faults)
}

func TestErrors_TheDatabasesTextStaysInside(t *testing.T) {
	t.Parallel()
	log, lines := observed()
	database := &pgconn.PgError{Code: "23514", Message: "secret violates check"}
	s := rpctest.New(t, failing(fmt.Errorf("save: %w", database)).register, func(o *rpcserve.Options) { o.Log = log })
	conn := s.As(rpctest.Person("dock1", dock))
	_, err := call(within(t), conn, weighMethod, weighing())
	got := rpctest.Refused(t, err, codes.Internal, errorv1.Reason_REASON_INTERNAL, nil)
	require.NotContains(t, got.Message, "secret")
	err = follow(within(t), t, conn).RecvMsg(dynamicpb.NewMessage(answerType))
	require.NotContains(t, apierr.Parse(err).Message, "secret")

	require.NoError(t, s.Stop())
	written := lines.FilterField(methodField(weighMethod)).All()
	require.Len(t, written, 1)
	require.Equal(t, zapcore.ErrorLevel, written[0].Level)
	require.Contains(t, written[0].ContextMap()["error"], "secret", "the log has the cause")
}

func TestErrors_ARefusalKeepsItsReason(t *testing.T) {
	t.Parallel()
	refusal := fmt.Errorf("decide: %w", apierr.SamePerson("users/dock1", "another person must approve"))
	s := rpctest.New(t, failing(refusal).register)
	_, err := call(within(t), s.As(rpctest.Person("dock1", dock)), weighMethod, weighing())
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": "users/dock1"})
}

func TestPanic_IsInternalAndItsStackIsLogged(t *testing.T) {
	t.Parallel()
	log, lines := observed()
	k := kit{
		unary:  func(context.Context, protoreflect.Message) (string, error) { panic("scale on fire") },
		stream: func(grpc.ServerStream) error { panic("scale on fire") },
	}
	s := rpctest.New(t, k.register, func(o *rpcserve.Options) { o.Log = log })
	conn := s.As(rpctest.Person("dock1", dock))
	_, err := call(within(t), conn, weighMethod, weighing())
	got := rpctest.Refused(t, err, codes.Internal, errorv1.Reason_REASON_INTERNAL, nil)
	require.NotContains(t, got.Message, "fire")
	err = follow(within(t), t, conn).RecvMsg(dynamicpb.NewMessage(answerType))
	rpctest.Refused(t, err, codes.Internal, errorv1.Reason_REASON_INTERNAL, nil)

	require.NoError(t, s.Stop())
	panics := lines.FilterMessage("panic").All()
	require.Len(t, panics, 2)
	require.Contains(t, panics[0].ContextMap()["stack"], "answers_test.go")
	require.NotEmpty(t, panics[0].ContextMap()["request_id"])
}

func TestAccessLog_OneLinePerCall(t *testing.T) {
	t.Parallel()
	log, lines := observed()
	s := rpctest.New(t, whoami.register, func(o *rpcserve.Options) { o.Log = log })
	conn := s.As(rpctest.Person("dock1", dock))
	ctx := metadata.AppendToOutgoingContext(within(t), rpcserve.RequestIDKey, "r-17")
	var header metadata.MD
	_, err := call(ctx, conn, weighMethod, weighing(), grpc.Header(&header))
	require.NoError(t, err)
	require.Equal(t, []string{"r-17"}, header.Get(rpcserve.RequestIDKey))
	_, err = call(within(t), conn, ownMethod, weighing(), grpc.Header(&header))
	require.Error(t, err)
	require.NotEmpty(t, header.Get(rpcserve.RequestIDKey), "one is made where none is given")

	require.NoError(t, s.Stop())
	written := lines.FilterField(methodField(weighMethod)).All()
	require.Len(t, written, 1)
	require.Equal(t, zapcore.InfoLevel, written[0].Level)
	fields := written[0].ContextMap()
	require.Equal(t, "r-17", fields["request_id"])
	require.Equal(t, "gateway", fields["peer"])
	require.Equal(t, "users/dock1", fields["actor"])
	require.Equal(t, "OK", fields["code"])
	require.Contains(t, fields, "duration")

	refused := lines.FilterField(methodField(ownMethod)).All()
	require.Len(t, refused, 1)
	require.Equal(t, "NOT_ALLOWED", refused[0].ContextMap()["reason"])
	require.Equal(t, "users/dock1", refused[0].ContextMap()["actor"])
	require.Contains(t, refused[0].ContextMap()["error"], `acts as "DOCK"`)
}

func TestRequestID_RubbishIsReplaced(t *testing.T) {
	t.Parallel()
	k := kit{unary: func(ctx context.Context, _ protoreflect.Message) (string, error) { return rpcserve.RequestID(ctx), nil }}
	s := rpctest.New(t, k.register)
	ctx := metadata.AppendToOutgoingContext(within(t), rpcserve.RequestIDKey, "two words")
	said, err := call(ctx, s.Gateway(), openMethod, weighing())
	require.NoError(t, err)
	require.Len(t, said, 36)
}

func TestDebug_MetricsHealthAndProfiles(t *testing.T) {
	t.Parallel()
	lis, err := (&net.ListenConfig{}).Listen(context.Background(), "tcp", "127.0.0.1:0")
	require.NoError(t, err)
	s := rpctest.New(t, failing(errors.New("broken")).register, func(o *rpcserve.Options) { o.Debug = lis })
	_, err = call(within(t), s.As(rpctest.Person("dock1", dock)), weighMethod, weighing())
	require.Error(t, err)

	get := func(path string) (int, string) {
		req, err := http.NewRequestWithContext(within(t), http.MethodGet, "http://"+lis.Addr().String()+path, nil)
		require.NoError(t, err)
		answer, err := http.DefaultClient.Do(req)
		require.NoError(t, err)
		defer func() { require.NoError(t, answer.Body.Close()) }()
		body, err := io.ReadAll(answer.Body)
		require.NoError(t, err)
		return answer.StatusCode, string(body)
	}
	code, text := get("/metrics")
	require.Equal(t, 200, code)
	require.Contains(t, text, `barrelhead_intake_grpc_server_handled_total{grpc_code="Internal",grpc_method="Weigh",grpc_service="`+kitService+`",grpc_type="unary"} 1`)
	require.Contains(t, text, "barrelhead_intake_grpc_server_handling_seconds_bucket")
	require.Contains(t, text, "barrelhead_intake_certificate_expiry_timestamp_seconds 1.")
	code, _ = get("/healthz")
	require.Equal(t, 200, code)
	code, text = get("/readyz")
	require.Equal(t, 200, code, text)
	code, _ = get("/debug/pprof/goroutine?debug=1")
	require.Equal(t, 200, code)
	code, _ = get("/nothing")
	require.Equal(t, 404, code)
}

func TestReflection_OnlyWhenAskedFor(t *testing.T) {
	t.Parallel()
	const reflection = "/grpc.reflection.v1.ServerReflection/ServerReflectionInfo"
	ask := func(on bool) codes.Code {
		s := rpctest.New(t, whoami.register, func(o *rpcserve.Options) { o.Config.Reflection = on })
		stream, err := s.AsService("operator").NewStream(within(t), &grpc.StreamDesc{ServerStreams: true, ClientStreams: true}, reflection)
		require.NoError(t, err)
		require.NoError(t, stream.CloseSend())
		err = stream.RecvMsg(dynamicpb.NewMessage(answerType))
		if errors.Is(err, io.EOF) {
			return codes.OK
		}
		return apierr.Parse(err).Code
	}
	require.Equal(t, codes.Unimplemented, ask(false))
	require.Equal(t, codes.OK, ask(true))
}
