package rpc_test

import (
	"context"
	"math/rand/v2"
	"net/url"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/pgtest"
)

const (
	manyClerks = 200
	rushHour   = 6 * time.Second
)

// 200 clerks open and cancel tickets while sessions of the database are killed at random. A call that failed is repeated
// under its request_id, as a dock does, until it is answered. Then every number from 1 to the last is found exactly once,
// and there is one for each delivery.
func TestNumbersSurviveKilledSessions(t *testing.T) {
	t.Parallel()
	d := ready(t)
	killer, err := pgx.Connect(t.Context(), pgtest.AdminURL(t, "intake"))
	require.NoError(t, err)
	defer func() { require.NoError(t, killer.Close(context.Background())) }()
	ends := time.Now().Add(rushHour)
	var rush, killing sync.WaitGroup
	var failed atomic.Int64
	var numbers sync.Map
	for clerk := range manyClerks {
		rush.Go(func() {
			for round := 0; round == 0 || time.Now().Before(ends); round++ {
				open := &intakev1.OpenTicketRequest{RequestId: id(), Member: "members/M-0007", CropYear: 2026}
				ticket := insist(t, &failed, func(ctx context.Context) (*intakev1.Ticket, error) { return d.clerk.OpenTicket(ctx, open) })
				if _, twice := numbers.LoadOrStore(ticket.GetNumber(), true); twice {
					t.Errorf("number %s was given twice", ticket.GetNumber())
				}
				if (clerk+round)%3 != 0 {
					continue
				}
				cancel := &intakev1.CancelTicketRequest{RequestId: id(), Name: ticket.GetName(), Reason: "truck left"}
				insist(t, &failed, func(ctx context.Context) (*intakev1.Ticket, error) { return d.clerk.CancelTicket(ctx, cancel) })
			}
		})
	}
	done := make(chan struct{})
	killed := 0
	killing.Go(func() { killed = killAtRandom(t, killer, done) })
	rush.Wait()
	close(done)
	killing.Wait()
	require.Positive(t, killed)
	require.Positive(t, failed.Load(), "the kills were felt")

	given := int64(0)
	numbers.Range(func(any, any) bool { given++; return true })
	report, err := d.auditor.ReportTicketNumbers(t.Context(), &intakev1.ReportTicketNumbersRequest{Year: 2026})
	require.NoError(t, err)
	require.Equal(t, given, report.GetLastNumber())
	require.Empty(t, report.GetMissingNumbers())
	counted := int64(0)
	for _, c := range report.GetStateCounts() {
		counted += c.GetCount()
	}
	require.Equal(t, given, counted)
	var opened int64
	require.NoError(t, killer.QueryRow(t.Context(), `SELECT count(DISTINCT aggregate)
		FROM (SELECT aggregate, type FROM intake.event UNION ALL SELECT aggregate, type FROM intake.event_pending) facts
		WHERE type = 'barrelhead.intake.v1.TicketOpened' HAVING count(*) = count(DISTINCT aggregate)`).Scan(&opened))
	require.Equal(t, given, opened, "one fact for each")
	t.Logf("%d tickets, %d sessions killed, %d calls failed and were repeated", given, killed, failed.Load())
}

// insist repeats a call until it is answered.
func insist[R any](t *testing.T, failed *atomic.Int64, call func(ctx context.Context) (R, error)) R {
	for {
		answer, err := call(t.Context())
		if err == nil || t.Context().Err() != nil {
			return answer
		}
		failed.Add(1)
	}
}

// killAtRandom ends one session of the service after the other until done.
func killAtRandom(t *testing.T, killer *pgx.Conn, done <-chan struct{}) int {
	address, err := url.Parse(pgtest.AdminURL(t, "intake"))
	if err != nil {
		t.Error(err)
		return 0
	}
	killed := 0
	for {
		select {
		case <-done:
			return killed
		case <-time.After(time.Duration(20+rand.IntN(60)) * time.Millisecond):
		}
		tag, err := killer.Exec(context.Background(), `SELECT pg_terminate_backend(pid) FROM (SELECT pid FROM pg_stat_activity
			WHERE datname = $1 AND pid <> pg_backend_pid() AND backend_type = 'client backend' ORDER BY random() LIMIT 1) victim`,
			strings.TrimPrefix(address.Path, "/"))
		if err != nil {
			t.Error(err)
			return killed
		}
		killed += int(tag.RowsAffected())
	}
}
