package access

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"google.golang.org/grpc/metadata"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
)

// Names of the metadata by which the gateway passes the person on whose behalf it calls.
const (
	ActorKey  = "barrelhead-actor"
	RolesKey  = "barrelhead-roles"
	MemberKey = "barrelhead-member"
)

const rolePrefix = "ROLE_"

// Outgoing returns a context whose calls carry a. It replaces what an outer layer set, so a caller can never have two.
func Outgoing(ctx context.Context, a Actor) context.Context {
	md, _ := metadata.FromOutgoingContext(ctx)
	md = md.Copy()
	if md == nil {
		md = metadata.MD{}
	}
	set(md, ActorKey, a.Login)
	set(md, RolesKey, FormatRoles(a.Roles))
	set(md, MemberKey, a.Member)
	return metadata.NewOutgoingContext(ctx, md)
}

func set(md metadata.MD, key, value string) {
	md.Delete(key)
	if value != "" {
		md.Set(key, value)
	}
}

// Incoming reads what the caller's metadata claims; claimed is false when it claims nothing. Whether to believe it is
// for the server to decide from the certificate.
func Incoming(ctx context.Context) (a Actor, claimed bool, err error) {
	md, _ := metadata.FromIncomingContext(ctx)
	values := map[string]string{}
	for _, key := range []string{ActorKey, RolesKey, MemberKey} {
		found := md.Get(key)
		if len(found) > 1 {
			return Actor{}, true, fmt.Errorf("metadata %s is given %d times", key, len(found))
		}
		if len(found) == 1 {
			claimed = true
			values[key] = found[0]
		}
	}
	if !claimed {
		return Actor{}, false, nil
	}
	roles, err := ParseRoles(values[RolesKey])
	if err != nil {
		return Actor{}, true, err
	}
	return Actor{Login: values[ActorKey], Roles: roles, Member: values[MemberKey]}, true, nil
}

// FormatRoles writes roles as "DOCK,OFFICE".
func FormatRoles(roles []accessv1.Role) string {
	names := make([]string, 0, len(roles))
	for _, r := range roles {
		names = append(names, RoleName(r))
	}
	return strings.Join(names, ",")
}

// RoleName is the short name of a role, e.g. "LAB_LEAD".
func RoleName(r accessv1.Role) string {
	return strings.TrimPrefix(r.String(), rolePrefix)
}

// ParseRoles reads "DOCK,OFFICE". An empty string is no role. An unknown name is an error rather than ignored: a
// caller newer than this service must not silently lose or gain rights.
func ParseRoles(s string) ([]accessv1.Role, error) {
	if s == "" {
		return nil, nil
	}
	var roles []accessv1.Role
	for name := range strings.SplitSeq(s, ",") {
		number, known := accessv1.Role_value[rolePrefix+strings.TrimSpace(name)]
		role := accessv1.Role(number)
		if !known || role == accessv1.Role_ROLE_UNSPECIFIED {
			return nil, fmt.Errorf("unknown role %q", name)
		}
		if !slices.Contains(roles, role) {
			roles = append(roles, role)
		}
	}
	return roles, nil
}
