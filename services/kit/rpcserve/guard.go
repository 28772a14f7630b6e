package rpcserve

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"go.uber.org/zap"
	"google.golang.org/grpc"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/logging"
	"barrelhead.example/services/kit/mtls"
)

// guard decides who may call: the process by its certificate, then the person by the roles declared on the RPC.
type guard struct{ rules rules }

func (c *chain) guardUnary(ctx context.Context, req any, info *grpc.UnaryServerInfo, next grpc.UnaryHandler) (any, error) {
	ctx, err := c.guard.admit(ctx, info.FullMethod)
	if err != nil {
		return nil, err
	}
	return next(ctx, req)
}

func (c *chain) guardStream(srv any, stream grpc.ServerStream, info *grpc.StreamServerInfo, next grpc.StreamHandler) error {
	ctx, err := c.guard.admit(stream.Context(), info.FullMethod)
	if err != nil {
		return err
	}
	return next(srv, withContext{stream, ctx})
}

// admit returns the context of the handler, which knows the actor.
func (g *guard) admit(ctx context.Context, method string) (context.Context, error) {
	peer, err := mtls.PeerName(ctx)
	if err != nil {
		return nil, apierr.Because(unauthenticated(method), err)
	}
	seen := callFrom(ctx)
	seen.actor.Peer = peer
	service, _, _ := strings.Cut(strings.TrimPrefix(method, "/"), "/")
	if !access.Ours(service) {
		return ctx, allowed(slices.Contains(g.rules.anyone, peer), method, "%s is on no allow-list", peer)
	}
	if !slices.Contains(g.rules.peers[service], peer) {
		return nil, refuse(method, "%s is not on the allow-list of %s", peer, service)
	}
	actor, err := identify(ctx, method, peer)
	if err != nil {
		return nil, err
	}
	seen.actor = actor
	rule := g.rules.methods[method]
	if !rule.Permits(actor.Roles) {
		if actor.Login == "" {
			return nil, unauthenticated(method)
		}
		return nil, refuse(method, "%s acts as %q", actor.Login, access.FormatRoles(actor.Roles))
	}
	ctx = logging.With(ctx, logging.From(ctx).With(zap.String("peer", peer), zap.String("actor", actor.Login)))
	return access.With(ctx, rule.Narrow(actor)), nil
}

// identify says on whose behalf peer calls. Only the gateway may speak for a person; when it speaks for nobody, the
// caller is nobody, so that a forgotten login can reach public RPCs only. Every other process speaks for itself, and
// one that claims a person is refused rather than ignored: it is forging or badly wrong.
func identify(ctx context.Context, method, peer string) (access.Actor, error) {
	claim, claimed, err := access.Incoming(ctx)
	if err != nil {
		return access.Actor{}, refuse(method, "%s sent an unreadable actor: %v", peer, err)
	}
	if peer != Gateway {
		if claimed {
			return access.Actor{}, refuse(method, "%s claims to act for %q", peer, claim.Login)
		}
		return access.Actor{Login: peer, Roles: []accessv1.Role{accessv1.Role_ROLE_SERVICE}, Peer: peer}, nil
	}
	if claim.Has(accessv1.Role_ROLE_SERVICE) || (claimed && !strings.HasPrefix(claim.Login, "users/")) {
		return access.Actor{}, refuse(method, "a person cannot be %q with %q", claim.Login, access.FormatRoles(claim.Roles))
	}
	claim.Peer = peer
	return claim, nil
}

func allowed(ok bool, method, cause string, args ...any) error {
	if ok {
		return nil
	}
	return refuse(method, cause, args...)
}

// refuse tells the caller no more than the method; why is for the log.
func refuse(method, cause string, args ...any) error {
	return apierr.Because(apierr.Reason(errorv1.Reason_REASON_NOT_ALLOWED,
		"you may not do this; ask the office which role it needs", map[string]string{"method": method}),
		fmt.Errorf(cause, args...))
}

func unauthenticated(method string) error {
	return apierr.Reason(errorv1.Reason_REASON_UNAUTHENTICATED, "sign in first", map[string]string{"method": method})
}
