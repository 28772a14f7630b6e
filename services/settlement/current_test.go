package settlement_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/settlement/internal/app"
	"barrelhead.example/services/settlement/internal/store"
)

const (
	prepared = settlementv1.RunState_RUN_STATE_PREPARED
	outdated = settlementv1.RunState_RUN_STATE_OUTDATED
)

// state is what GetRun and ListRuns say of the newest run; they must agree.
func (m *market) state(r *settlementv1.Run) settlementv1.RunState {
	m.t.Helper()
	read, err := m.as(board).GetRun(m.t.Context(), &settlementv1.GetRunRequest{Name: r.GetName()})
	require.NoError(m.t, err)
	list, err := m.as(auditor).ListRuns(m.t.Context(), &settlementv1.ListRunsRequest{Pool: m.pool.GetName(), PageSize: 1})
	require.NoError(m.t, err)
	require.Equal(m.t, read.String(), list.GetRuns()[0].String())
	return read.GetState()
}

func (m *market) version() int64 {
	v, err := store.Store{}.InputVersion(m.t.Context(), m.db.Pool(), 2026)
	require.NoError(m.t, err)
	return v
}

// Whatever a closing depends on outdates a run at once, by whichever way it is changed.
func TestEveryChangeOutdatesAtOnce(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("5500.00")
	m.take(closed(ticket("FC-2026-000009", "M-0002", barrelOf{"FC-9", "640.0", "sage"})))
	m.take(sampled("FC-9"))
	m.take(graded("FC-9", 1, "17.0", "WHITE", "A"))
	special := tablePool()
	special.Title, special.Varieties = "Clover 2026", []string{"clover"}
	for _, change := range []struct {
		name string
		make func()
	}{
		{"an entry", func() { m.spends("0.01") }},
		{"a replaced certificate", func() { m.take(graded("FC-4", 2, "17.1", "WHITE", "A")) }},
		{"a delivery", func() {
			m.take(closed(ticket("FC-2026-000010", "M-0002", barrelOf{"FC-10", "640.0", "clover"})))
		}},
		{"a first price", func() {
			m.take(sampled("FC-10"))
			m.take(graded("FC-10", 1, "17.0", "WHITE", "A"))
		}},
		{"a voided ticket", func() { m.take(&intakev1.TicketVoided{Ticket: ticket("FC-2026-000010", "M-0002")}) }},
		{"a weight in doubt", func() { m.take(scaleReview("R-1", "FC-1")) }},
		{"a result in doubt", func() { m.take(doubted("controlRuns/C-1", "FC-2")) }},
		{"a final", func() {
			m.asOwner(`INSERT INTO standing_final SELECT barrel, payout, member FROM standing_advance LIMIT 1`)
		}},
		{"a final taken back", func() { m.asOwner(`DELETE FROM standing_final`) }},
		{"a hand in the database", func() { m.asOwner(`UPDATE standing_advance SET payable = payable + 1 WHERE barrel = $1`, made("FC-3")) }},
		{"a hand that moves honey to another year", func() { m.asOwner(`UPDATE standing_advance SET crop_year = 2027 WHERE barrel = $1`, made("FC-3")) }},
		{"and back", func() { m.asOwner(`UPDATE standing_advance SET crop_year = 2026 WHERE barrel = $1`, made("FC-3")) }},
		{"another pool's sources", func() {
			var err error
			special, err = m.as(office).OpenPool(t.Context(), &settlementv1.OpenPoolRequest{RequestId: uuid.NewString(), Pool: special})
			require.NoError(t, err)
		}},
		{"another pool's closing", func() {
			m.asOwner(`INSERT INTO settlement_run (run, number, pool, fingerprint, inputs, outcome, preparer, prepare_time)
				SELECT gen_random_uuid(), 'by hand', $1, repeat('0', 64), '', outcome, '', prepare_time FROM settlement_run LIMIT 1`, strings.TrimPrefix(special.GetName(), "pools/"))
			m.asOwner(`INSERT INTO run_release SELECT run, pool, 'by hand', prepare_time FROM settlement_run WHERE number = 'by hand'`)
		}},
		{"everything gone", func() { m.asOwner(`TRUNCATE standing_advance`) }},
	} {
		r := m.prepare()
		before := m.version()
		require.Equal(t, prepared, m.state(r), change.name)
		change.make()
		require.Greater(t, m.version(), before, change.name)
		require.Equal(t, outdated, m.state(r), change.name)
	}
}

// What was changed and changed back is as it was, and so is the run.
func TestADoubtThatPassesLeavesTheRunAsItWas(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("5500.00")
	r := m.prepare()
	m.take(doubted("controlRuns/C-1", "FC-2"))
	require.Equal(t, outdated, m.state(r))
	m.take(&gradingv1.ResultsConfirmed{Results: &gradingv1.DoubtedResults{ControlRun: "controlRuns/C-1"}})
	require.Equal(t, prepared, m.state(r))
}

func TestAnotherYearOutdatesNothing(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("5500.00")
	r := m.prepare()
	before := m.version()
	other := ticket("FC-2027-000001", "M-0001", barrelOf{"FC-20", "640.0", "clover"})
	other.CropYear = 2027
	m.take(closed(other))
	require.Equal(t, before, m.version())
	require.Equal(t, prepared, m.state(r))
}

// While nothing has changed, a run is read without the barrels, which may be a million: with their tables locked, every
// replica still answers. After a change they are read once for all who ask.
func TestARunIsReadWithoutTheBarrels(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("5500.00")
	r := m.prepare()
	ask := &settlementv1.GetRunRequest{Name: r.GetName()}
	replica := &app.App{DB: m.db, Clock: m.clk, Store: store.Store{}, Terms: pounds, Zone: time.UTC}
	states := func(a *app.App) (state settlementv1.RunState) {
		require.NoError(t, m.db.InTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
			if _, err := tx.Exec(ctx, `LOCK TABLE standing_advance, intake_barrel IN ACCESS EXCLUSIVE MODE`); err != nil {
				return err
			}
			ctx, cancel := context.WithTimeout(access.With(t.Context(), board), patience)
			defer cancel()
			read, err := a.GetRun(ctx, ask)
			if err != nil {
				return err
			}
			state = read.GetState()
			_, err = a.ListRuns(ctx, &settlementv1.ListRunsRequest{Pool: m.pool.GetName()})
			return err
		}))
		return state
	}
	require.Equal(t, prepared, states(m.app))
	require.Equal(t, prepared, states(replica))
	m.spends("0.01")
	_, err := replica.GetRun(access.With(t.Context(), board), ask)
	require.NoError(t, err)
	require.Equal(t, outdated, states(replica))
}
