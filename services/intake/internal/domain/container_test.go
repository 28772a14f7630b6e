package domain_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/intake/internal/domain"
)

// Whatever is recorded, the balance is give-outs less returns and never below what is lost.
func TestContainerBalanceIsGiveOutsLessReturns(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		a := domain.ContainerAccount{Member: "M-0007", Balances: []domain.ContainerBalance{{
			Container: domain.SteelLined, Moved: map[domain.MoveKind]int64{},
		}}}
		for range rapid.IntRange(0, 30).Draw(t, "moves") {
			m := domain.ContainerMove{
				Container: domain.SteelLined, Note: "counted", Count: rapid.IntRange(1, 20).Draw(t, "count"),
				Kind: rapid.SampledFrom([]domain.MoveKind{domain.GivenOut, domain.BackFull, domain.BackEmpty, domain.Lost}).Draw(t, "kind"),
			}
			b := a.Balances[0]
			fits := m.Kind == domain.GivenOut || int64(m.Count) <= b.Out()-b.Moved[domain.Lost]
			err := a.MayMove(m)
			require.Equal(t, fits, err == nil)
			if err == nil {
				b.Moved[m.Kind] += int64(m.Count)
			}
			require.Equal(t, b.Moved[domain.GivenOut]-b.Moved[domain.BackFull]-b.Moved[domain.BackEmpty], b.Out())
			require.GreaterOrEqual(t, b.Out(), b.Moved[domain.Lost])
		}
	})
	require.Error(t, domain.ContainerAccount{}.MayMove(domain.ContainerMove{Kind: domain.Lost, Count: 1}))
	require.Error(t, domain.ContainerAccount{}.MayMove(domain.ContainerMove{Kind: domain.BackFull, Count: 1, Container: domain.Tote}))
}
