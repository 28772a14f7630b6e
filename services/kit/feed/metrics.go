package feed

import (
	"context"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"barrelhead.example/services/kit/pg"
)

const scrapeTimeout = 2 * time.Second

// metrics reads the tables at each scrape, so every replica reports the truth and none keeps counts of its own.
type metrics struct {
	db                                   *pg.DB
	pool                                 prometheus.Collector
	head, pending, listening             *prometheus.Desc
	position, lag, halted, lastConfirmed *prometheus.Desc
}

// Metrics reports this service's log, how far it follows its neighbours, and the pool both share with everything else;
// register it once per process.
func Metrics(db *pg.DB) prometheus.Collector {
	name := func(what string) string { return prometheus.BuildFQName("barrelhead", db.Schema()+"_feed", what) }
	desc := func(what, help string, labels ...string) *prometheus.Desc {
		return prometheus.NewDesc(name(what), help, labels, nil)
	}
	return &metrics{
		db:            db,
		pool:          pg.Metrics(db),
		head:          desc("head_sequence", "Newest numbered event of this service's own log."),
		pending:       desc("pending_events", "Committed events not numbered yet; they are numbered when somebody reads."),
		listening:     desc("listener_up", "1 while notices of other processes arrive; without them feeds are as late as their polling."),
		position:      desc("cursor_sequence", "Last event applied.", "consumer", "source"),
		lag:           desc("lag_events", "Events known and not yet applied.", "consumer", "source"),
		halted:        desc("halted", "1 while the source waits for an operator.", "consumer", "source"),
		lastConfirmed: desc("confirmed_timestamp_seconds", "When the position was last confirmed, Unix time.", "consumer", "source"),
	}
}

// Describe implements prometheus.Collector.
func (m *metrics) Describe(out chan<- *prometheus.Desc) {
	m.pool.Describe(out)
	for _, d := range []*prometheus.Desc{m.head, m.pending, m.listening, m.position, m.lag, m.halted, m.lastConfirmed} {
		out <- d
	}
}

// Collect implements prometheus.Collector.
func (m *metrics) Collect(out chan<- prometheus.Metric) {
	m.pool.Collect(out)
	ctx, cancel := context.WithTimeout(context.Background(), scrapeTimeout)
	defer cancel()
	out <- gauge(m.listening, asNumber(m.db.Listening()))
	var head, pending int64
	const q = "SELECT head_sequence, (SELECT count(*) FROM event_pending) FROM feed_head"
	if err := m.db.Pool().QueryRow(ctx, q).Scan(&head, &pending); err != nil {
		out <- prometheus.NewInvalidMetric(m.head, err)
		return
	}
	out <- gauge(m.head, float64(head))
	out <- gauge(m.pending, float64(pending))
	all, err := Statuses(ctx, m.db.Pool())
	if err != nil {
		out <- prometheus.NewInvalidMetric(m.position, err)
		return
	}
	for _, s := range all {
		out <- gauge(m.position, float64(s.Sequence), s.Consumer, s.Source)
		out <- gauge(m.lag, float64(s.Lag()), s.Consumer, s.Source)
		out <- gauge(m.halted, asNumber(s.HaltedSequence > 0), s.Consumer, s.Source)
		out <- gauge(m.lastConfirmed, float64(s.UpdateTime.UnixMilli())/1000, s.Consumer, s.Source)
	}
}

func gauge(d *prometheus.Desc, v float64, labels ...string) prometheus.Metric {
	return prometheus.MustNewConstMetric(d, prometheus.GaugeValue, v, labels...)
}

func asNumber(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
