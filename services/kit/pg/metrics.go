package pg

import (
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/prometheus/client_golang/prometheus"
)

// reading is one number of the pool and how it is read.
type reading struct {
	desc *prometheus.Desc
	kind prometheus.ValueType
	read func(*pgxpool.Stat) float64
}

type poolMetrics struct {
	pool     *pgxpool.Pool
	readings []reading
}

// Metrics reports the pool; register it once per process. Where callers wait, conns_acquired stays at conns_max and
// waits_total grows.
func Metrics(db *DB) prometheus.Collector {
	m := &poolMetrics{pool: db.pool}
	add := func(name, help string, kind prometheus.ValueType, read func(*pgxpool.Stat) float64) {
		name = prometheus.BuildFQName("barrelhead", db.schema+"_pool", name)
		m.readings = append(m.readings, reading{prometheus.NewDesc(name, help, nil, nil), kind, read})
	}
	gauge, counter := prometheus.GaugeValue, prometheus.CounterValue
	add("conns_max", "Most connections the pool opens.", gauge, func(s *pgxpool.Stat) float64 { return float64(s.MaxConns()) })
	add("conns_open", "Connections open or being opened.", gauge, func(s *pgxpool.Stat) float64 { return float64(s.TotalConns()) })
	add("conns_acquired", "Connections in use.", gauge, func(s *pgxpool.Stat) float64 { return float64(s.AcquiredConns()) })
	add("connects_total", "Connections opened since the start.", counter, func(s *pgxpool.Stat) float64 { return float64(s.NewConnsCount()) })
	add("acquires_total", "Loans since the start.", counter, func(s *pgxpool.Stat) float64 { return float64(s.AcquireCount()) })
	add("waits_total", "Loans that found no idle connection.", counter, func(s *pgxpool.Stat) float64 { return float64(s.EmptyAcquireCount()) })
	add("wait_seconds_total", "Time spent waiting in those loans.", counter,
		func(s *pgxpool.Stat) float64 { return s.EmptyAcquireWaitTime().Seconds() })
	add("abandoned_total", "Loans given up because the caller's time was over.", counter,
		func(s *pgxpool.Stat) float64 { return float64(s.CanceledAcquireCount()) })
	return m
}

// Describe implements prometheus.Collector.
func (m *poolMetrics) Describe(out chan<- *prometheus.Desc) {
	for _, r := range m.readings {
		out <- r.desc
	}
}

// Collect implements prometheus.Collector.
func (m *poolMetrics) Collect(out chan<- prometheus.Metric) {
	stat := m.pool.Stat()
	for _, r := range m.readings {
		out <- prometheus.MustNewConstMetric(r.desc, r.kind, r.read(stat))
	}
}
