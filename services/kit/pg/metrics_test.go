package pg_test

import (
	"context"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/stretchr/testify/require"
	"go.uber.org/zap"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
)

func readings(t *testing.T, registry *prometheus.Registry) map[string]float64 {
	t.Helper()
	families, err := registry.Gather()
	require.NoError(t, err)
	all := map[string]float64{}
	for _, family := range families {
		m := family.GetMetric()[0]
		all[family.GetName()] = m.GetGauge().GetValue() + m.GetCounter().GetValue()
	}
	return all
}

func TestMetrics_ShowABusyPool(t *testing.T) {
	t.Parallel()
	db, err := pg.Open(t.Context(), pg.Config{URL: pgtest.URL(t, "intake"), Schema: "intake", MaxConns: 1}, zap.NewNop())
	require.NoError(t, err)
	t.Cleanup(db.Close)
	registry := prometheus.NewPedanticRegistry()
	require.NoError(t, registry.Register(pg.Metrics(db)))
	before := readings(t, registry)
	require.InDelta(t, 1, before["barrelhead_intake_pool_conns_max"], 0)
	require.Zero(t, before["barrelhead_intake_pool_conns_acquired"])

	conn, err := db.Pool().Acquire(t.Context())
	require.NoError(t, err)
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Millisecond)
	defer cancel()
	require.ErrorIs(t, db.Pool().Ping(ctx), context.DeadlineExceeded)
	busy := readings(t, registry)
	require.InDelta(t, 1, busy["barrelhead_intake_pool_conns_acquired"], 0)
	require.InDelta(t, before["barrelhead_intake_pool_abandoned_total"]+1, busy["barrelhead_intake_pool_abandoned_total"], 0)

	conn.Release()
	after := readings(t, registry)
	require.Zero(t, after["barrelhead_intake_pool_conns_acquired"])
	require.InDelta(t, 1, after["barrelhead_intake_pool_connects_total"], 0)
}
