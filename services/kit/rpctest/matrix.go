package rpctest

import (
	"context"
	"errors"
	"fmt"
	"io"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/types/dynamicpb"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
)

// following is how long a permitted stream is listened to: one that says nothing has accepted the caller.
const following = 400 * time.Millisecond

// Matrix calls every RPC of the named gRPC services ("barrelhead.intake.v1.IntakeService") in every role, through conn,
// a connection of the gateway that acts for nobody (Server.Gateway). A role the RPC does not declare must be refused
// with PERMISSION_DENIED and NOT_ALLOWED; one it declares must get past that, whatever the handler then says to an empty
// request. A caller who has not signed in must be told so, except by public RPCs.
func Matrix(t *testing.T, conn grpc.ClientConnInterface, services ...string) {
	t.Helper()
	require.NotEmpty(t, services)
	for _, service := range services {
		rules, err := access.Declared(service)
		require.NoError(t, err)
		for _, rule := range rules {
			t.Run(rule.Method, func(t *testing.T) {
				t.Parallel()
				require.NoError(t, nobody(conn, rule))
				for _, role := range access.Roles() {
					require.NoError(t, inRole(conn, rule, role))
				}
			})
		}
	}
}

func nobody(conn grpc.ClientConnInterface, rule access.Rule) error {
	got := apierr.Parse(Call(context.Background(), conn, rule))
	refused := got.Code == codes.Unauthenticated && got.Reason == "UNAUTHENTICATED"
	if refused == rule.Allow.GetPublic() {
		return fmt.Errorf("%s without a login: public is %t, but the answer was %s %s", rule.Method, rule.Allow.GetPublic(), got.Code, got.Reason)
	}
	return nil
}

func inRole(conn grpc.ClientConnInterface, rule access.Rule, role accessv1.Role) error {
	actor := Person("matrix", role)
	if role == accessv1.Role_ROLE_MEMBER {
		actor = Member("M-0001")
	}
	// The gateway can never be a service on somebody's behalf.
	permitted := rule.Permits(actor.Roles) && role != accessv1.Role_ROLE_SERVICE
	got := apierr.Parse(Call(As(context.Background(), actor), conn, rule))
	refused := got.Code == codes.PermissionDenied && got.Reason == "NOT_ALLOWED"
	if refused == permitted || got.Code == codes.Unauthenticated {
		return fmt.Errorf("%s as %s: permitted is %t, but the answer was %s %s", rule.Method, access.RoleName(role), permitted, got.Code, got.Reason)
	}
	return nil
}

// Call makes one call with an empty request and returns its error. A stream is read until its first message, its end,
// or the caller's patience does.
func Call(ctx context.Context, conn grpc.ClientConnInterface, rule access.Rule) error {
	request, answer := dynamicpb.NewMessage(rule.Descriptor.Input()), dynamicpb.NewMessage(rule.Descriptor.Output())
	if !rule.Descriptor.IsStreamingClient() && !rule.Descriptor.IsStreamingServer() {
		ctx, cancel := context.WithTimeout(ctx, patience)
		defer cancel()
		return conn.Invoke(ctx, rule.Method, request, answer, grpc.WaitForReady(true)) // the status is the result
	}
	return callStream(ctx, conn, rule, request, answer)
}

func callStream(ctx context.Context, conn grpc.ClientConnInterface, rule access.Rule, request, answer *dynamicpb.Message) error {
	ctx, cancel := context.WithTimeout(ctx, following)
	defer cancel()
	stream, err := conn.NewStream(ctx, &grpc.StreamDesc{
		ClientStreams: rule.Descriptor.IsStreamingClient(), ServerStreams: rule.Descriptor.IsStreamingServer(),
	}, rule.Method, grpc.WaitForReady(true))
	if err != nil {
		return err // the status is the result
	}
	// A refused stream may be over before the request is sent; its status then comes from RecvMsg.
	if err := stream.SendMsg(request); err != nil && !errors.Is(err, io.EOF) {
		return err // the status is the result
	}
	if err := stream.CloseSend(); err != nil {
		return err // the status is the result
	}
	if err := stream.RecvMsg(answer); err != nil && !errors.Is(err, io.EOF) {
		return err // the status is the result
	}
	return nil
}
