package settlement_test

import (
	"context"
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
)

// A calculation that is given up at any moment and sent again under its request_id is made once, with each line once,
// whether it is followed or not.
func TestCalculationIsFollowedGivenUpAndSentAgain(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.waits(3_000)
	h.adopt(prices("2026-07-01"))
	m := &market{house: h, as: h.serve()}
	m.pool = poolOf(m)
	m.sells("4000000.00")
	client := m.as(office)
	ask := &settlementv1.FollowRunPreparationRequest{RequestId: uuid.NewString(), Pool: m.pool.GetName()}
	for pause := time.Duration(0); pause < 20*time.Millisecond; pause += 4 * time.Millisecond {
		ctx, giveUp := context.WithTimeout(t.Context(), pause)
		stream, err := client.FollowRunPreparation(ctx, ask)
		for err == nil {
			_, err = stream.Recv()
		}
		giveUp()
	}
	stream, err := client.FollowRunPreparation(t.Context(), ask)
	require.NoError(t, err)
	var last *settlementv1.FollowRunPreparationResponse
	for {
		next, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		require.LessOrEqual(t, next.GetBarrelsDone(), next.GetBarrels())
		require.Equal(t, int32(3_000), next.GetBarrels())
		last = next
	}
	require.NotNil(t, last.GetRun(), "the last message has the run")
	again, err := client.PrepareRun(t.Context(), &settlementv1.PrepareRunRequest{RequestId: ask.GetRequestId(), Pool: ask.GetPool()})
	require.NoError(t, err)
	require.True(t, proto.Equal(last.GetRun(), again))
	for table, want := range map[string]int{"settlement_run": 1, "run_line": 3_000, "run_member": 100} {
		var rows int
		require.NoError(t, h.db.Pool().QueryRow(t.Context(), "SELECT count(*) FROM "+table).Scan(&rows))
		require.Equal(t, want, rows, table)
	}
	verified, err := m.as(auditor).VerifyRun(t.Context(), &settlementv1.VerifyRunRequest{Name: again.GetName()})
	require.NoError(t, err)
	require.True(t, verified.GetIdentical(), verified.GetFinding())
}

// follower is a client that stops following at some message.
type follower struct {
	grpc.ServerStreamingServer[settlementv1.FollowRunPreparationResponse]
	ctx  context.Context
	send func(*settlementv1.FollowRunPreparationResponse) error
}

func (f *follower) Context() context.Context                                { return f.ctx }
func (f *follower) Send(m *settlementv1.FollowRunPreparationResponse) error { return f.send(m) }

// Given up in the middle, with lines on their way to the database already, a calculation leaves no line, no lock and no
// connection behind, whichever way the client goes; sent again, it is made from the beginning.
func TestCalculationGivenUpInTheMiddleLeavesNothing(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.waits(2_500)
	h.adopt(prices("2026-07-01"))
	m := &market{house: h, as: h.serve()}
	m.pool = poolOf(m)
	m.sells("4000000.00")
	h.app.ReportEvery = 500
	ask := &settlementv1.FollowRunPreparationRequest{RequestId: uuid.NewString(), Pool: m.pool.GetName()}
	gone := errors.New("the client is gone")
	for name, leave := range map[string]func(cancel func()) error{
		"cancelled": func(cancel func()) error { cancel(); return nil },
		"gone":      func(func()) error { return gone },
	} {
		ctx, cancel := context.WithCancel(access.With(t.Context(), office))
		err := h.app.FollowRunPreparation(ask, &follower{ctx: ctx, send: func(r *settlementv1.FollowRunPreparationResponse) error {
			if r.GetBarrelsDone() == 2_000 {
				return leave(cancel)
			}
			return nil
		}})
		cancel()
		require.Error(t, err, name)
		// A connection broken off in the middle of a COPY is closed, which takes the server a moment.
		require.Eventually(t, func() bool {
			var left int
			require.NoError(t, h.db.Pool().QueryRow(t.Context(), `SELECT (SELECT count(*) FROM run_piece) + (SELECT count(*) FROM settlement_run)
				+ (SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid() AND xact_start IS NOT NULL)`).Scan(&left))
			return left == 0 && h.db.Pool().Stat().AcquiredConns() == 0
		}, patience, 10*time.Millisecond, name)
	}
	var done []int32
	var made *settlementv1.Run
	require.NoError(t, h.app.FollowRunPreparation(ask, &follower{ctx: access.With(t.Context(), office), send: func(r *settlementv1.FollowRunPreparationResponse) error {
		done, made = append(done, r.GetBarrelsDone()), r.GetRun()
		return nil
	}}))
	require.Equal(t, []int32{0, 500, 1_000, 1_500, 2_000, 2_500}, done)
	require.Equal(t, int32(2_500), made.GetBarrels())
	verified, err := m.as(auditor).VerifyRun(t.Context(), &settlementv1.VerifyRunRequest{Name: made.GetName()})
	require.NoError(t, err)
	require.True(t, verified.GetIdentical(), verified.GetFinding())
	m.comparesPieces(made)
}

// comparesPieces changes barrels at the edges of the pieces a run is kept in, and takes one away so that all behind it move up:
// a comparison finds just these.
func (m *market) comparesPieces(first *settlementv1.Run) {
	const places = `(SELECT barrel, row_number() OVER (ORDER BY barrel) AS n FROM standing_advance) x`
	var want []string
	require.NoError(m.t, m.db.Pool().QueryRow(m.t.Context(), `SELECT array_agg('barrels/' || barrel) FROM `+places+` WHERE n IN (1, 500, 1000, 1001, 2001, 2500)`).Scan(&want))
	m.asOwner(`UPDATE standing_advance SET payable = payable + 1000 WHERE barrel IN (SELECT barrel FROM ` + places + ` WHERE n IN (1, 1000, 1001, 2001, 2500))`)
	m.asOwner(`DELETE FROM standing_advance WHERE barrel IN (SELECT barrel FROM ` + places + ` WHERE n = 500)`)
	c, err := m.as(board).CompareRuns(m.t.Context(), &settlementv1.CompareRunsRequest{Base: first.GetName(), Name: m.prepare().GetName()})
	require.NoError(m.t, err)
	var found []string
	for _, change := range c.GetChanges() {
		if strings.HasPrefix(change.GetSubject(), "barrels/") {
			found = append(found, change.GetSubject())
		}
	}
	require.ElementsMatch(m.t, want, found)
}
