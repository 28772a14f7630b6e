package suite_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"go.uber.org/zap"
	"google.golang.org/protobuf/types/known/wrapperspb"

	"barrelhead.example/deploy/local/suite"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// options of a suite in a folder that PostgreSQL's own user may enter, which t.TempDir is not.
func options(t *testing.T) suite.Options {
	t.Helper()
	home, err := os.MkdirTemp("/tmp", "barrelhead-suite-") //nolint:usetesting // see above
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(home)) })
	require.NoError(t, os.Chmod(home, 0o755))
	return suite.Options{
		Home: home, Listen: "127.0.0.1:0", Log: zap.NewNop(),
		Cooperative: config.Cooperative{Name: "Fallow Creek Honey Cooperative", Site: "FC", Unit: "LB", Currency: "USD", TimeZone: "America/Chicago"},
	}
}

// runs starts a suite, works on the log of intake, and stops it.
func runs(t *testing.T, o suite.Options, work func(ctx context.Context, db *pg.DB)) {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	require.NoError(t, suite.Run(ctx, o, func(ctx context.Context, r suite.Running) error {
		defer stop()
		db, err := pg.Open(ctx, pg.Config{URL: r.Services["intake"].Database.URL, Schema: "intake"}, zap.NewNop())
		if err != nil {
			return err
		}
		defer db.Close()
		work(ctx, db)
		return nil
	}))
}

func note(t *testing.T, db *pg.DB, text string) {
	t.Helper()
	require.NoError(t, db.InTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		return feed.Append(ctx, tx, time.Now(), feed.Meta{Actor: "users/dock"}, feed.Fact{Aggregate: "notes/1", Payload: wrapperspb.String(text)})
	}))
}

// TestBackup_RestoresElsewhereAndGoesOn backs a running suite up, loses the machine and goes on with another.
func TestBackup_RestoresElsewhereAndGoesOn(t *testing.T) {
	t.Parallel()
	first, second := options(t), options(t)
	file := filepath.Join(t.TempDir(), "saturday.backup")
	var key string
	runs(t, first, func(ctx context.Context, db *pg.DB) {
		note(t, db, "before")
		var err error
		key, err = first.Backup(ctx, file)
		require.NoError(t, err)
		note(t, db, "after")
	})
	require.FileExists(t, key)
	info, err := os.Stat(file)
	require.NoError(t, err)
	require.EqualValues(t, 0o600, info.Mode().Perm(), "it holds signing keys")
	_, err = first.Backup(t.Context(), file)
	require.ErrorIs(t, err, os.ErrExist, "the last good backup is never written over")

	restored, err := second.Restore(t.Context(), file)
	require.NoError(t, err)
	require.EqualValues(t, 1, restored.Events["intake"], "what was recorded before, verified, and nothing else")
	require.NotEmpty(t, restored.KeyMissing, "the key is not among the backups")
	_, err = second.Restore(t.Context(), file)
	require.ErrorContains(t, err, "is not empty")

	runs(t, second, func(ctx context.Context, db *pg.DB) {
		note(t, db, "on the new machine")
		require.NoError(t, feed.Number(ctx, db.Pool()), "although the new server counts its transactions anew")
		events, err := feed.Verify(ctx, db)
		require.NoError(t, err)
		require.EqualValues(t, 2, events)
	})
}

func TestRestore_RefusesWhatIsNoBackup(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), "letter.txt")
	require.NoError(t, os.WriteFile(file, []byte("Dear treasurer,"), 0o600))
	_, err := options(t).Restore(t.Context(), file)
	require.ErrorContains(t, err, "no backup")
}
