package e2e

import (
	"context"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"barrelhead.example/deploy/season"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/pgtest"
	"barrelhead.example/services/kit/rpcdial"
)

// TestEditedReading is the bad day on which somebody with access to the database edits a colour reading: the verifier of
// the laboratory's log names the first broken record, and the logs of the other services are whole.
func TestEditedReading(t *testing.T) {
	t.Parallel()
	w := newWorld(t, season.Size{Members: 3, Barrels: 6})
	require.NoError(t, w.crew.Work(t.Context(), w.client, "admin", season.Password))
	settled(t, w.crew)
	for _, name := range []string{"intake", "grading", "inventory", "settlement"} {
		whole := w.verifyLog(t, name)
		require.Positive(t, whole.GetCheckedEvents(), name)
		require.Zero(t, whole.GetBrokenSequence(), "%s: %s", name, whole.GetCause())
	}
	edited := w.editColor(t)
	broken := w.verifyLog(t, "grading")
	require.Equal(t, edited, broken.GetBrokenSequence())
	require.Equal(t, edited-1, broken.GetCheckedEvents())
	require.NotEmpty(t, broken.GetCause())
	for _, name := range []string{"intake", "inventory", "settlement"} {
		require.Zero(t, w.verifyLog(t, name).GetBrokenSequence(), name)
	}
}

func (w *world) verifyLog(t *testing.T, name string) *feedv1.VerifyLogResponse {
	t.Helper()
	conn, err := rpcdial.Dial(t.Context(), w.Services["gateway"], name)
	require.NoError(t, err)
	defer func() { require.NoError(t, conn.Close()) }()
	ctx := access.Outgoing(t.Context(), access.Actor{Login: "users/auditor", Roles: []accessv1.Role{accessv1.Role_ROLE_AUDITOR}})
	found, err := feedv1.NewFeedAdminServiceClient(conn).VerifyLog(ctx, &feedv1.VerifyLogRequest{})
	require.NoError(t, err)
	return found
}

// editColor changes the third colour reading of the log, as its owner could, and gives its place.
func (w *world) editColor(t *testing.T) int64 {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), w.Services["grading"].Database.URL)
	require.NoError(t, err)
	defer func() { require.NoError(t, conn.Close(context.Background())) }()
	var sequence int64
	var payload []byte
	require.NoError(t, conn.QueryRow(t.Context(), `SELECT sequence, payload FROM grading.event
WHERE type LIKE '%ReadingRecorded' AND position('CP-1'::bytea IN payload) > 0 ORDER BY sequence OFFSET 2 LIMIT 1`).Scan(&sequence, &payload))
	at := len(payload) - 1
	payload[at] ^= 1
	_, err = conn.Exec(t.Context(), `UPDATE grading.event SET payload = payload WHERE sequence = $1`, sequence)
	require.ErrorContains(t, err, "permission denied", "the service itself may not edit its log")
	pgtest.Exec(t, "grading", `UPDATE event SET payload = $2 WHERE sequence = $1`, sequence, payload)
	return sequence
}
