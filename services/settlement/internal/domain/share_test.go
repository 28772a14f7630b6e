package domain_test

import (
	"fmt"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// ownersOf draws two to ten owners whose shares are everything.
func ownersOf(t *rapid.T) []domain.Owner {
	left := int64(domain.WholeShare)
	n := rapid.IntRange(2, 10).Draw(t, "owners")
	owners := make([]domain.Owner, n)
	for i := range owners {
		share := left
		if i < n-1 {
			share = rapid.Int64Range(1, left-int64(n-1-i)).Draw(t, "share")
		}
		owners[i], left = domain.Owner{Member: fmt.Sprintf("members/M-%04d", i+1), Share: share}, left-share
	}
	return owners
}

// Whatever the shares, the owners' parts are the barrel, line by line, and so are those of its final and of what is taken back.
func TestPartsAreTheBarrel(t *testing.T) {
	t.Parallel()
	s := schedule(t)
	s.Moisture.Step = price(t, "0.01")
	c := certificate(t, "19.2", "WHITE", "A")
	closed := domain.NewClosedPool(uuid.MustParse("00000000-0000-4000-8000-0000000000e1"), "R-2026-01", "Table honey",
		[]domain.PriceRow{{ColorClass: "WHITE", Grade: "A", Advance: price(t, "1.09333")}})
	rapid.Check(t, func(rt *rapid.T) {
		b := barrel(t, "640.0", "clover")
		b.Net, b.Owners = quantity.Mass(rapid.Int64Range(1, 700_000).Draw(rt, "net")), ownersOf(rt)
		whole := advance(t, s, b, c)
		parts, err := whole.Split(pounds)
		require.NoError(rt, err)
		for n, l := range whole.Lines {
			if l.Kind == domain.LineCharge {
				var sum quantity.Money
				for _, p := range parts {
					sum += p.Lines[n].Amount
				}
				require.Equal(rt, l.Amount, sum)
			}
		}
		require.Equal(rt, whole.Net, domain.Join(parts).Net)
		require.Equal(rt, whole.Payable, domain.Join(parts).Payable)
		final, err := domain.NewFinal(whole, closed, 0, pounds, noon)
		require.NoError(rt, err)
		finals, err := domain.NewFinals(parts, closed, 0, pounds, noon)
		require.NoError(rt, err)
		var due quantity.Money
		for i, f := range finals {
			due += f.Net
			back, err := f.Reverse("ticket FC-2026-000731 was voided", pounds, noon)
			require.NoError(rt, err)
			require.Equal(rt, -f.Net, back.Net)
			require.Equal(rt, parts[i].Barrel.Member, f.Barrel.Member)
		}
		require.Equal(rt, final.Net, due)
	})
}
