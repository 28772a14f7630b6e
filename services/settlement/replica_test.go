package settlement_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/settlement/internal/app"
	"barrelhead.example/services/settlement/internal/project"
)

// beside is another replica on the same database, with a memory of its own.
func (h *house) beside() *house {
	other := *h
	other.app = &app.App{DB: h.db, Clock: h.clk, Store: h.app.Store, Terms: h.app.Terms, Zone: h.app.Zone, Policy: h.app.Policy}
	other.prj = &project.Project{Tables: h.prj.Tables, Settler: other.app, Terms: h.app.Terms}
	return &other
}

// Prices are kept in memory from call to call. What one replica adopts or releases, the other knows at its next step.
func TestReplicasKnowEachOthersPrices(t *testing.T) {
	t.Parallel()
	here := open(t)
	there := here.beside()
	here.take(member("M-0001", "Orchard Hill Apiary"))
	for _, tag := range []string{"FC-1", "FC-2", "FC-3"} {
		here.take(closed(ticket("T-"+tag, "M-0001", barrelOf{tag, "640.0", "clover"})))
		here.take(sampled(tag))
	}
	there.take(graded("FC-1", 1, "17.0", "WHITE", "A"))
	require.Contains(t, there.waiting()["FC-1"], "no schedule is adopted")
	here.adopt(prices("2026-07-01"))
	there.take(graded("FC-2", 1, "17.0", "WHITE", "A"))
	dearer := prices("2026-08-01")
	dearer.Rows[0].Advance = perPound("1.20")
	there.adopt(dearer)
	here.take(graded("FC-3", 1, "17.0", "WHITE", "A"))
	var gross []string
	for _, p := range there.payouts("M-0001") {
		gross = append(gross, p.GetGrossAmount().GetAmount())
	}
	require.Equal(t, []string{"768.00", "736.00", "736.00"}, gross, "newest first: the dearer schedule, then twice the older")

	m := &market{house: here, as: here.serve()}
	m.pool = poolOf(m)
	m.sells("4000.00")
	require.Empty(t, there.waiting())
	m.settled()
	there.take(&intakev1.TicketReissued{OldTicket: ticket("T-FC-1", "M-0001"), NewTicket: ticket("T-FC-9", "M-0002", barrelOf{"FC-1", "640.0", "clover"})})
	there.take(member("M-0002", "Three Oaks Honey"))
	require.Equal(t, settlementv1.PayoutKind_PAYOUT_KIND_FINAL, there.payouts("M-0002")[0].GetKind(), "the other replica knows that the pool is closed")
}
