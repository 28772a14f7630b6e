// Package access says who is calling and what the RPC they call allows.
package access

import (
	"context"
	"slices"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
)

// Actor is the caller of one RPC: a person vouched for by the gateway, or another service known by its certificate.
type Actor struct {
	// Login is "users/…" for a person and the certificate's name for a service.
	Login string
	// Roles the caller acts in.
	Roles []accessv1.Role
	// Member is "members/M-0007" when the login belongs to a member, else empty.
	Member string
	// Peer is the name in the certificate of the process that called.
	Peer string
}

type actorKey struct{}

// With returns a context whose caller is a.
func With(ctx context.Context, a Actor) context.Context {
	return context.WithValue(ctx, actorKey{}, a)
}

// From returns the caller, or the zero Actor, which has no role and sees no member.
func From(ctx context.Context) Actor {
	a, _ := ctx.Value(actorKey{}).(Actor)
	return a
}

// Has reports whether the caller acts in role.
func (a Actor) Has(role accessv1.Role) bool {
	return slices.Contains(a.Roles, role)
}

// OnlyMember reports whether being a member is the only ground the caller has.
func (a Actor) OnlyMember() bool {
	return len(a.Roles) > 0 && !slices.ContainsFunc(a.Roles, func(r accessv1.Role) bool {
		return r != accessv1.Role_ROLE_MEMBER
	})
}

// SeesMember reports whether the caller may see what concerns member ("members/M-0007"). When it is false the handler
// answers NOT_FOUND, exactly as for a resource that does not exist, so that numbers cannot be probed.
func SeesMember(ctx context.Context, member string) bool {
	a := From(ctx)
	if len(a.Roles) == 0 {
		return false
	}
	return !a.OnlyMember() || (member != "" && a.Member == member)
}
