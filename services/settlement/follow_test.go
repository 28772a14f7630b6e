package settlement_test

import (
	"context"
	"errors"
	"io"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
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
