package domain_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/intake/internal/domain"
)

func split(pairs ...any) domain.Owners {
	var o domain.Owners
	for i := 0; i < len(pairs); i += 2 {
		share, err := domain.ParseShare(pairs[i+1].(string))
		if err != nil {
			panic(err)
		}
		o = append(o, domain.Owner{Member: pairs[i].(string), Share: share})
	}
	return o
}

func TestSharesAreExactlyAHundredPercent(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		asked domain.Owners
		fault string
	}{
		"nobody":             {nil, ""},
		"two":                {split("M-0001", "60", "M-0002", "40"), ""},
		"three thirds":       {split("M-0001", "33.3334", "M-0002", "33.3333", "M-0003", "33.3333"), ""},
		"the member second":  {split("M-0002", "40", "M-0001", "60"), ""},
		"all":                {split("M-0001", "100"), ""},
		"a thousandth short": {split("M-0001", "60", "M-0002", "39.9999"), "the shares add up to 99.9999 %: they must be exactly 100 %"},
		"a thousandth over":  {split("M-0001", "60.0001", "M-0002", "40"), "the shares add up to 100.0001 %: they must be exactly 100 %"},
		"twice":              {split("M-0001", "60", "M-0001", "40"), "members/M-0001 is listed twice: add its shares up"},
		"nothing":            {split("M-0001", "100", "M-0002", "0"), "members/M-0002 cannot own 0.0 %: a share is above 0 and at most 100"},
		"without the member": {split("M-0002", "60", "M-0003", "40"), "members/M-0001 brought the delivery but has no share in it: give it one, or name another member"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			got, err := domain.SplitAmong("owners", "M-0001", c.asked)
			if c.fault != "" {
				require.EqualError(t, err, c.fault)
				return
			}
			require.NoError(t, err)
			require.NoError(t, got.Check())
			if len(c.asked) < 2 {
				require.Empty(t, got)
				return
			}
			require.Equal(t, "M-0001", got[0].Member)
			require.ElementsMatch(t, c.asked, got)
		})
	}
}

// However a delivery is cut, exactly the cuts that add up are taken, and no more than ten.
func TestOnlyWholeDeliveriesAreSplit(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		shares := rapid.SliceOfN(rapid.Int64Range(1, int64(domain.All)/5), 2, 12).Draw(t, "shares")
		var asked domain.Owners
		var sum domain.Share
		for i, s := range shares {
			asked = append(asked, domain.Owner{Member: string(rune('A' + i)), Share: domain.Share(s)})
			sum += domain.Share(s)
		}
		if rapid.Bool().Draw(t, "made whole") && sum < domain.All {
			asked[0].Share += domain.All - sum
			sum = domain.All
		}
		_, err := domain.SplitAmong("owners", "A", asked)
		require.Equal(t, sum == domain.All && len(asked) <= 10, err == nil)
	})
}

func TestStandingSplitDoesNotReachIntoThePast(t *testing.T) {
	t.Parallel()
	require.NoError(t, domain.StandingSplit{From: "2026-09-14"}.Vet("2026-09-14"))
	require.ErrorContains(t, domain.StandingSplit{From: "2026-09-13"}.Vet("2026-09-14"), "begin it on 2026-09-14 or later")
	require.ErrorContains(t, domain.StandingSplit{From: "2026-02-30"}.Vet("2026-02-01"), "is not a date")
}

func TestReissueKeepsTheSplitOrSaysANewOne(t *testing.T) {
	t.Parallel()
	ticket := domain.Ticket{State: domain.Closed, Member: "M-0001", Owners: split("M-0001", "60", "M-0002", "40")}
	for name, c := range map[string]struct {
		member string
		asked  domain.Owners
		want   domain.Owners
		fault  string
	}{
		"void":                        {"", nil, nil, ""},
		"owners of nothing":           {"", split("M-0001", "60", "M-0002", "40"), nil, "name the member"},
		"another member":              {"M-0003", nil, split("M-0003", "60", "M-0002", "40"), ""},
		"the other owner, not saying": {"M-0002", nil, nil, "has 40.0 % of ticket"},
		"the other owner":             {"M-0002", split("M-0002", "100"), nil, ""},
		"the same, nothing new":       {"M-0001", nil, nil, "belongs to members/M-0001 already"},
		"the same, the same split":    {"M-0001", split("M-0002", "40", "M-0001", "60"), nil, "belongs to members/M-0001 already"},
		"the same, another split":     {"M-0001", split("M-0001", "50", "M-0002", "50"), split("M-0001", "50", "M-0002", "50"), ""},
		"the same, alone":             {"M-0001", split("M-0001", "100"), nil, ""},
		"not a hundred":               {"M-0003", split("M-0003", "50", "M-0002", "49"), nil, "add up to 99.0 %"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			got, err := ticket.MayRequestVoid(domain.Void{ReissueMember: c.member, ReissueOwners: c.asked})
			if c.fault != "" {
				require.ErrorContains(t, err, c.fault)
				return
			}
			require.NoError(t, err)
			require.Equal(t, c.want, got)
		})
	}
}

func TestCoOwnerSeesItsOwnShareOnly(t *testing.T) {
	t.Parallel()
	ticket := domain.Ticket{
		Member: "M-0001", MemberName: "Hill apiary", Hauler: "Hill's son", State: domain.Closed,
		Owners: split("M-0001", "60", "M-0002", "40"), Barrels: []domain.Barrel{{Member: "M-0001", Sample: "2C4D6F8HJ"}},
	}
	lead := ticket.AsSeenBy("M-0001")
	require.Equal(t, "Hill apiary", lead.MemberName)
	require.Equal(t, split("M-0001", "60"), lead.Owners)
	require.Equal(t, "M-0001", lead.Barrels[0].Member)
	other := ticket.AsSeenBy("M-0002")
	require.Equal(t, split("M-0002", "40"), other.Owners)
	require.Empty(t, other.Member+other.MemberName+other.Hauler+other.Barrels[0].Member)
	require.Equal(t, "2C4D6F8HJ", other.Barrels[0].Sample, "it is its honey too")
	require.Equal(t, "M-0001", ticket.Barrels[0].Member, "the ticket itself stays")
}
