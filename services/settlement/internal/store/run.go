package store

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

const runColumns = `s.run, s.place, s.number, s.pool, s.fingerprint, s.inputs, s.outcome, s.preparer, s.prepare_time, coalesce(r.releaser, ''), r.release_time
	FROM settlement_run s LEFT JOIN run_release r USING (run)`

func scanRun(row pgx.CollectableRow) (*pool.Run, error) {
	var r pool.Run
	err := row.Scan(&r.ID, &r.Place, &r.Number, &r.Pool, &r.Fingerprint, &r.Inputs, &r.Outcome, &r.Preparer, &r.PrepareTime, &r.Releaser, &r.ReleaseTime)
	return &r, err
}

// InsertRun saves a calculation.
func (Store) InsertRun(ctx context.Context, tx pgx.Tx, r *pool.Run) error {
	return exec(ctx, tx, "save the run", `INSERT INTO settlement_run
		(run, number, pool, fingerprint, inputs, inputs_version, outcome, preparer, prepare_time) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
		r.ID, r.Number, r.Pool, r.Fingerprint, r.Inputs, r.Version, r.Outcome, r.Preparer, r.PrepareTime)
}

// InputVersion counts the changes of all that closings of a crop year depend on, as q sees it: where the count is the same,
// the inputs are.
func (Store) InputVersion(ctx context.Context, q pg.Querier, cropYear int) (version int64, err error) {
	err = q.QueryRow(ctx, `SELECT coalesce(sum(version), 0)::bigint FROM input_version WHERE crop_year IN (0, $1)`, cropYear).Scan(&version)
	return version, wrap("read the version of the inputs", err)
}

// FingerprintAt is the fingerprint of a pool's runs made of this version of its inputs, or "" where there is none.
func (Store) FingerprintAt(ctx context.Context, q pg.Querier, id uuid.UUID, version int64) (fingerprint string, err error) {
	err = q.QueryRow(ctx, `SELECT coalesce((SELECT fingerprint FROM settlement_run WHERE pool = $1 AND inputs_version = $2 LIMIT 1), '')`, id, version).Scan(&fingerprint)
	return fingerprint, wrap("look for a run of these inputs", err)
}

// CountRuns is how many runs a crop year has had. The gate must be held.
func (Store) CountRuns(ctx context.Context, tx pgx.Tx, cropYear int) (int, error) {
	var n int
	err := tx.QueryRow(ctx, `SELECT count(*) FROM settlement_run JOIN pool USING (pool) WHERE crop_year = $1`, cropYear).Scan(&n)
	if err != nil {
		return 0, fmt.Errorf("count the runs: %w", err)
	}
	return n, nil
}

// Run is one run with its votes, or nil.
func (s Store) Run(ctx context.Context, q pg.Querier, id uuid.UUID) (*pool.Run, error) {
	r, err := one(ctx, q, "read the run", `SELECT `+runColumns+` WHERE s.run = $1`, scanRun, id)
	if r == nil || err != nil {
		return nil, err
	}
	return r, s.fillVotes(ctx, q, []*pool.Run{r})
}

// ListRuns gives a pool's runs with their votes, newest first, beginning before place; 0 begins at the newest.
func (s Store) ListRuns(ctx context.Context, q pg.Querier, id uuid.UUID, before int64, limit int) ([]*pool.Run, error) {
	runs, err := collect(ctx, q, "list the runs", `SELECT `+runColumns+`
		WHERE s.pool = $1 AND ($2 = 0 OR s.place < $2) ORDER BY s.place DESC LIMIT $3`, scanRun, id, before, limit)
	if err != nil {
		return nil, err
	}
	return runs, s.fillVotes(ctx, q, runs)
}

func (Store) fillVotes(ctx context.Context, q pg.Querier, runs []*pool.Run) error {
	byID, ids := map[uuid.UUID]*pool.Run{}, make([]uuid.UUID, 0, len(runs))
	for _, r := range runs {
		byID[r.ID], ids = r, append(ids, r.ID)
	}
	rows, err := q.Query(ctx, `SELECT run, director, abstained, minutes, vote_time FROM run_vote WHERE run = ANY($1) ORDER BY vote_time, director`, ids)
	if err != nil {
		return fmt.Errorf("read the votes: %w", err)
	}
	var run uuid.UUID
	var v pool.Vote
	_, err = pgx.ForEachRow(rows, []any{&run, &v.Director, &v.Abstained, &v.Minutes, &v.Time}, func() error {
		byID[run].Votes = append(byID[run].Votes, v)
		return nil
	})
	return wrap("read the votes", err)
}

// InsertVote saves a director's vote. A second one is a *domain.StateError.
func (Store) InsertVote(ctx context.Context, tx pgx.Tx, run *pool.Run, v pool.Vote) error {
	err := exec(ctx, tx, "save the vote", `INSERT INTO run_vote (run, director, abstained, minutes, vote_time) VALUES ($1, $2, $3, $4, $5)`,
		run.ID, v.Director, v.Abstained, v.Minutes, v.Time)
	return pg.Named(err, map[string]error{"run_vote_once": &domain.StateError{
		Resource: run.Name(), State: "VOTED", Message: "you have voted on this run already; a vote is not changed",
	}})
}

// InsertRelease saves the release that closes the pool.
func (Store) InsertRelease(ctx context.Context, tx pgx.Tx, r *pool.Run) error {
	err := exec(ctx, tx, "save the release", `INSERT INTO run_release (run, pool, releaser, release_time) VALUES ($1, $2, $3, $4)`,
		r.ID, r.Pool, r.Releaser, r.ReleaseTime)
	taken := &domain.StateError{Resource: r.Name(), State: "RELEASED", Message: "the pool of this run is closed; a run releases once"}
	return pg.Named(err, map[string]error{"run_release_pk": taken, "run_release_pool_once": taken})
}

// ReleasedRuns are the runs that closed a pool, oldest first.
func (Store) ReleasedRuns(ctx context.Context, q pg.Querier) ([]*pool.Run, error) {
	return collect(ctx, q, "read the released runs", `SELECT `+runColumns+` WHERE r.run IS NOT NULL ORDER BY s.place`, scanRun)
}
