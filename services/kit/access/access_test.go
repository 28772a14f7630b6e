package access_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/metadata"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	"barrelhead.example/services/kit/access"
)

const (
	dock   = accessv1.Role_ROLE_DOCK
	member = accessv1.Role_ROLE_MEMBER
	office = accessv1.Role_ROLE_OFFICE
)

func TestSeesMember(t *testing.T) {
	t.Parallel()
	cases := map[string]struct {
		actor access.Actor
		sees  bool
	}{
		"nobody sees nothing":                  {access.Actor{}, false},
		"a member sees its own":                {access.Actor{Roles: []accessv1.Role{member}, Member: "members/M-0007"}, true},
		"a member does not see a neighbour's":  {access.Actor{Roles: []accessv1.Role{member}, Member: "members/M-0008"}, false},
		"a member login without a number":      {access.Actor{Roles: []accessv1.Role{member}}, false},
		"the office sees everyone's":           {access.Actor{Roles: []accessv1.Role{office}}, true},
		"an officer who is a member sees them": {access.Actor{Roles: []accessv1.Role{office, member}, Member: "members/M-0008"}, true},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			require.Equal(t, c.sees, access.SeesMember(access.With(context.Background(), c.actor), "members/M-0007"))
		})
	}
}

func TestSeesMember_AnEmptyNumberIsNobodys(t *testing.T) {
	t.Parallel()
	ctx := access.With(context.Background(), access.Actor{Roles: []accessv1.Role{member}})
	require.False(t, access.SeesMember(ctx, ""))
}

func TestMetadata_RoundTrip(t *testing.T) {
	t.Parallel()
	sent := access.Actor{Login: "users/office1", Roles: []accessv1.Role{office, accessv1.Role_ROLE_LAB_LEAD}, Member: "members/M-0007"}
	md, _ := metadata.FromOutgoingContext(access.Outgoing(context.Background(), sent))
	require.Equal(t, []string{"OFFICE,LAB_LEAD"}, md.Get(access.RolesKey))

	got, claimed, err := access.Incoming(metadata.NewIncomingContext(context.Background(), md))
	require.NoError(t, err)
	require.True(t, claimed)
	require.Equal(t, sent, got)
}

func TestOutgoing_ReplacesAnEarlierActor(t *testing.T) {
	t.Parallel()
	ctx := access.Outgoing(context.Background(), access.Actor{Login: "users/a", Roles: []accessv1.Role{office}, Member: "members/M-0001"})
	ctx = access.Outgoing(ctx, access.Actor{Login: "users/b"})
	md, _ := metadata.FromOutgoingContext(ctx)
	require.Equal(t, []string{"users/b"}, md.Get(access.ActorKey))
	require.Empty(t, md.Get(access.RolesKey))
	require.Empty(t, md.Get(access.MemberKey))
}

func TestIncoming_RefusesWhatIsAmbiguous(t *testing.T) {
	t.Parallel()
	for name, md := range map[string]metadata.MD{
		"two logins":       metadata.Pairs(access.ActorKey, "users/a", access.ActorKey, "users/b"),
		"an unknown role":  metadata.Pairs(access.RolesKey, "DOCK,KING"),
		"the unspecified":  metadata.Pairs(access.RolesKey, "UNSPECIFIED"),
		"an empty element": metadata.Pairs(access.RolesKey, "DOCK,,OFFICE"),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, claimed, err := access.Incoming(metadata.NewIncomingContext(context.Background(), md))
			require.True(t, claimed)
			require.Error(t, err)
		})
	}
}

func TestRule_NarrowKeepsOnlyTheGroundsOfTheCall(t *testing.T) {
	t.Parallel()
	rule := access.Rule{Allow: &accessv1.Allow{Roles: []accessv1.Role{office, member}, OwnMemberOnly: true}}
	narrowed := rule.Narrow(access.Actor{Roles: []accessv1.Role{dock, member}, Member: "members/M-0007"})
	require.True(t, narrowed.OnlyMember())
	require.False(t, access.SeesMember(access.With(context.Background(), narrowed), "members/M-0008"))

	open := access.Rule{Allow: &accessv1.Allow{Roles: []accessv1.Role{member}}}
	require.True(t, open.Narrow(access.Actor{Roles: []accessv1.Role{dock, member}}).Has(dock))
}

func TestDeclared_ReadsTheOptionOnTheRPC(t *testing.T) {
	t.Parallel()
	rules, err := access.Declared(feedv1.FeedService_ServiceDesc.ServiceName)
	require.NoError(t, err)
	require.Len(t, rules, 1)
	require.Equal(t, feedv1.FeedService_Watch_FullMethodName, rules[0].Method)
	require.True(t, rules[0].Permits([]accessv1.Role{dock, accessv1.Role_ROLE_SERVICE}))
	require.False(t, rules[0].Permits([]accessv1.Role{dock}))
	require.False(t, rules[0].Permits(nil))
}

func TestDeclared_UnknownServiceIsAnError(t *testing.T) {
	t.Parallel()
	_, err := access.Declared("barrelhead.nothing.v1.NothingService")
	require.ErrorContains(t, err, "barrelhead.nothing.v1.NothingService")
	_, err = access.Declared("barrelhead.feed.v1.Event")
	require.ErrorContains(t, err, "not a service")
}

func TestMatrix_ListsLinkedServices(t *testing.T) {
	t.Parallel()
	var methods []string
	for _, r := range access.Matrix() {
		methods = append(methods, r.Method)
	}
	require.Contains(t, methods, feedv1.FeedService_Watch_FullMethodName)
	require.Len(t, access.Roles(), 13)
}
