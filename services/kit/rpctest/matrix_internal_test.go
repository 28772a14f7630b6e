package rpctest

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
)

// saying answers every call with one error, as a server with a broken guard would.
type saying struct{ err error }

func (s saying) Invoke(context.Context, string, any, any, ...grpc.CallOption) error { return s.err }

func (s saying) NewStream(context.Context, *grpc.StreamDesc, string, ...grpc.CallOption) (grpc.ClientStream, error) {
	return nil, s.err
}

func ruleOf(t *testing.T, method string) access.Rule {
	t.Helper()
	for _, rule := range access.Matrix() {
		if rule.Method == method {
			return rule
		}
	}
	require.Fail(t, "no such RPC", method)
	return access.Rule{}
}

func TestMatrix_NoticesABrokenGuard(t *testing.T) {
	t.Parallel()
	rule := access.Rule{
		Method: "/x", Allow: &accessv1.Allow{Roles: []accessv1.Role{accessv1.Role_ROLE_DOCK}},
		Descriptor: ruleOf(t, intakev1.IntakeService_GetTicket_FullMethodName).Descriptor,
	}
	open := saying{}
	shut := saying{apierr.Reason(errorv1.Reason_REASON_NOT_ALLOWED, "no", nil)}
	closed := saying{apierr.Reason(errorv1.Reason_REASON_UNAUTHENTICATED, "no", nil)}

	require.Error(t, inRole(open, rule, accessv1.Role_ROLE_LAB), "one too many")
	require.NoError(t, inRole(shut, rule, accessv1.Role_ROLE_LAB))
	require.Error(t, inRole(shut, rule, accessv1.Role_ROLE_DOCK), "one too few")
	require.NoError(t, inRole(open, rule, accessv1.Role_ROLE_DOCK))
	require.Error(t, inRole(closed, rule, accessv1.Role_ROLE_DOCK))
	require.Error(t, nobody(open, rule))
	require.NoError(t, nobody(closed, rule))

	rule.Allow = &accessv1.Allow{Public: true}
	require.Error(t, nobody(closed, rule))
	require.NoError(t, nobody(open, rule))
}

func TestCall_ARefusedStreamSaysWhy(t *testing.T) {
	t.Parallel()
	rule := ruleOf(t, feedv1.FeedService_Watch_FullMethodName)
	require.Error(t, inRole(saying{apierr.Unavailable(nil)}, rule, accessv1.Role_ROLE_DOCK))
	require.NoError(t, inRole(saying{apierr.Reason(errorv1.Reason_REASON_NOT_ALLOWED, "no", nil)}, rule, accessv1.Role_ROLE_DOCK))
}

func TestPeople(t *testing.T) {
	t.Parallel()
	require.Equal(t, "users/dock1", Person("dock1", accessv1.Role_ROLE_DOCK).Login)
	require.True(t, Member("M-0007").OnlyMember())
	require.Equal(t, "members/M-0007", Member("M-0007").Member)
}
