package rpcserve_test

import (
	"context"
	"net"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/metadata"
	"google.golang.org/protobuf/reflect/protoreflect"

	"barrelhead.example/deploy/certs"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/rpcserve"
	"barrelhead.example/services/kit/rpctest"
)

const (
	dock   = accessv1.Role_ROLE_DOCK
	lab    = accessv1.Role_ROLE_LAB
	office = accessv1.Role_ROLE_OFFICE
	member = accessv1.Role_ROLE_MEMBER
)

// whoami answers with the actor the handler sees.
var whoami = kit{unary: func(ctx context.Context, _ protoreflect.Message) (string, error) {
	a := access.From(ctx)
	return a.Peer + " " + a.Login + " " + access.FormatRoles(a.Roles) + " " + a.Member, nil
}, stream: func(s grpc.ServerStream) error { return s.SendMsg(answerOf("following")) }}

func TestAccess_ThePersonTheGatewayVouchesFor(t *testing.T) {
	t.Parallel()
	s := rpctest.New(t, whoami.register)
	said, err := call(context.Background(), s.As(rpctest.Person("dock1", dock, lab)), weighMethod, weighing())
	require.NoError(t, err)
	require.Equal(t, "gateway users/dock1 DOCK,LAB ", said)
}

func TestAccess_AServiceIsItsCertificate(t *testing.T) {
	t.Parallel()
	s := rpctest.New(t, whoami.register)
	said, err := call(context.Background(), s.AsService("inventory"), weighMethod, weighing())
	require.NoError(t, err)
	require.Equal(t, "inventory inventory SERVICE ", said)
}

func TestAccess_ActorForgedByAnotherServiceIsRefused(t *testing.T) {
	t.Parallel()
	s := rpctest.New(t, whoami.register)
	ctx := rpctest.As(context.Background(), rpctest.Person("board1", accessv1.Role_ROLE_BOARD))
	_, err := call(ctx, s.AsService("inventory"), weighMethod, weighing())
	rpctest.Refused(t, err, codes.PermissionDenied, errorv1.Reason_REASON_NOT_ALLOWED, map[string]string{"method": weighMethod})
}

func TestAccess_TheGatewayCannotMakeAPersonAService(t *testing.T) {
	t.Parallel()
	s := rpctest.New(t, whoami.register)
	for name, actor := range map[string]access.Actor{
		"the role":            rpctest.Person("dock1", accessv1.Role_ROLE_SERVICE),
		"a service's name":    {Login: "inventory", Roles: []accessv1.Role{dock}},
		"roles without login": {Roles: []accessv1.Role{dock}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, err := call(context.Background(), s.As(actor), weighMethod, weighing())
			rpctest.Refused(t, err, codes.PermissionDenied, errorv1.Reason_REASON_NOT_ALLOWED, nil)
		})
	}
	_, err := call(metadata.AppendToOutgoingContext(context.Background(), access.ActorKey, "users/a", access.RolesKey, "KING"),
		s.Gateway(), weighMethod, weighing())
	rpctest.Refused(t, err, codes.PermissionDenied, errorv1.Reason_REASON_NOT_ALLOWED, nil)
}

func TestAccess_EveryRoleOnEveryRPC(t *testing.T) {
	t.Parallel()
	s := rpctest.New(t, whoami.register)
	rpctest.Matrix(t, s.Gateway(), kitService)
}

func TestAccess_WithoutALoginOnlyPublicRPCs(t *testing.T) {
	t.Parallel()
	s := rpctest.New(t, whoami.register)
	_, err := call(context.Background(), s.Gateway(), weighMethod, weighing())
	rpctest.Refused(t, err, codes.Unauthenticated, errorv1.Reason_REASON_UNAUTHENTICATED, nil)
	said, err := call(context.Background(), s.Gateway(), openMethod, weighing())
	require.NoError(t, err)
	require.Equal(t, "gateway   ", said)
}

func TestAccess_AMemberWithAnotherRoleIsStillOnlyAMember(t *testing.T) {
	t.Parallel()
	s := rpctest.New(t, whoami.register)
	actor := rpctest.Member("M-0007")
	actor.Roles = append(actor.Roles, dock)
	said, err := call(context.Background(), s.As(actor), ownMethod, weighing())
	require.NoError(t, err)
	require.Equal(t, "gateway users/M-0007 MEMBER members/M-0007", said)
}

func TestAccess_APeerOffTheListIsRefused(t *testing.T) {
	t.Parallel()
	s := rpctest.New(t, whoami.register, func(o *rpcserve.Options) {
		o.Allow = map[string][]string{kitService: {"gateway"}}
	})
	_, err := call(context.Background(), s.As(rpctest.Person("dock1", dock)), weighMethod, weighing())
	require.NoError(t, err)

	plain := grpc.WithDefaultServiceConfig(`{}`) // no health check, which would be refused first
	_, err = call(context.Background(), s.Dial("inventory", plain), weighMethod, weighing())
	rpctest.Refused(t, err, codes.PermissionDenied, errorv1.Reason_REASON_NOT_ALLOWED, map[string]string{"method": weighMethod})
	_, err = healthv1.NewHealthClient(s.Dial("inventory", plain)).Check(context.Background(), &healthv1.HealthCheckRequest{})
	rpctest.Refused(t, err, codes.PermissionDenied, errorv1.Reason_REASON_NOT_ALLOWED, nil)
}

func TestAccess_CertificateOfAnotherAuthorityIsRefused(t *testing.T) {
	t.Parallel()
	s := rpctest.New(t, whoami.register)
	strangers := rpctest.New(t, whoami.register)
	strangers.Address = s.Address
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	_, err := call(ctx, strangers.Gateway(), openMethod, weighing(), grpc.WaitForReady(false))
	require.Error(t, err)
	require.ErrorContains(t, err, "certificate")
}

func serveOnce(t *testing.T, register func(grpc.ServiceRegistrar), allow map[string][]string) error {
	t.Helper()
	dir := t.TempDir()
	_, err := certs.Ensure(dir, []string{"intake"}, time.Now())
	require.NoError(t, err)
	lis, err := (&net.ListenConfig{}).Listen(context.Background(), "tcp", "127.0.0.1:0")
	require.NoError(t, err)
	// Over before it began: a server that does start drains at once.
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	return rpcserve.Serve(ctx, rpcserve.Options{
		Config: config.Service{Name: "intake", TLS: certs.Files(dir, "intake")}, Allow: allow,
	}, lis, register)
}

func TestServe_RefusesToStart(t *testing.T) {
	t.Parallel()
	everyone := map[string][]string{kitService: {"gateway"}}
	require.NoError(t, serveOnce(t, whoami.register, everyone), "the control: a complete service starts")

	err := serveOnce(t, registerBare, map[string][]string{bareService: {"gateway"}})
	require.ErrorContains(t, err, "/barrelhead.kittest.v1.BareService/Undeclared")

	err = serveOnce(t, func(r grpc.ServiceRegistrar) {
		r.RegisterService(&grpc.ServiceDesc{
			ServiceName: brokenService, HandlerType: (*any)(nil), Methods: []grpc.MethodDesc{kit{}.method("Weigh")},
		}, kit{})
	}, map[string][]string{brokenService: {"gateway"}})
	require.ErrorContains(t, err, "rules of barrelhead.kittest.v1.BadExpression")
	require.ErrorContains(t, err, "rules of barrelhead.kittest.v1.BadPattern")
	require.NotContains(t, err.Error(), "kittest.v1.Broken:", "the message around them has no fault of its own")

	require.ErrorContains(t, serveOnce(t, whoami.register, nil), "nobody is allowed to call "+kitService)

	err = serveOnce(t, whoami.register, map[string][]string{kitService: {"gateway"}, "barrelhead.kittest.v1.Typo": {"gateway"}})
	require.ErrorContains(t, err, "barrelhead.kittest.v1.Typo is in the allow-list but not served here")

	err = serveOnce(t, func(r grpc.ServiceRegistrar) {
		r.RegisterService(&grpc.ServiceDesc{ServiceName: "elsewhere.v1.Other", HandlerType: (*any)(nil)}, whoami)
	}, nil)
	require.ErrorContains(t, err, "elsewhere.v1.Other is not a service of this suite")
}
