package app

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// run is one run, or NOT_FOUND.
func (a *App) run(ctx context.Context, q pg.Querier, name string) (*pool.Run, error) {
	id, err := identity(name, "runs")
	if err != nil {
		return nil, err
	}
	r, err := a.Store.Run(ctx, q, id)
	if err == nil && r == nil {
		err = apierr.NotFound(name)
	}
	return r, err
}

// GetRun reads a run with its votes.
func (a *App) GetRun(ctx context.Context, req *settlementv1.GetRunRequest) (*settlementv1.Run, error) {
	r, err := a.run(ctx, a.DB.Pool(), req.GetName())
	if err != nil {
		return nil, err
	}
	current, err := a.current(ctx, r.Pool)
	if err != nil {
		return nil, err
	}
	return a.runToProto(r, current)
}

// ListRuns pages through a pool's runs.
func (a *App) ListRuns(ctx context.Context, req *settlementv1.ListRunsRequest) (*settlementv1.ListRunsResponse, error) {
	p, err := a.pool(ctx, a.DB.Pool(), req.GetPool())
	if err != nil {
		return nil, err
	}
	var before int64
	size, err := begin(req, &before)
	if err != nil {
		return nil, err
	}
	found, err := a.Store.ListRuns(ctx, a.DB.Pool(), p.ID, before, size+1)
	if err != nil {
		return nil, err
	}
	current, err := a.current(ctx, p.ID)
	if err != nil {
		return nil, err
	}
	out := &settlementv1.ListRunsResponse{}
	found, out.NextPageToken = page.Cut(found, size, req, func(r *pool.Run) any { return r.Place })
	for _, r := range found {
		row, err := a.runToProto(r, current)
		if err != nil {
			return nil, err
		}
		out.Runs = append(out.Runs, row)
	}
	return out, nil
}

// ListRunMembers pages through the members of a run.
func (a *App) ListRunMembers(ctx context.Context, req *settlementv1.ListRunMembersRequest) (*settlementv1.ListRunMembersResponse, error) {
	r, err := a.run(ctx, a.DB.Pool(), req.GetRun())
	if err != nil {
		return nil, err
	}
	var after string
	size, err := begin(req, &after)
	if err != nil {
		return nil, err
	}
	members, err := a.Store.RunMembers(ctx, a.DB.Pool(), r.ID, after, size+1)
	if err != nil {
		return nil, err
	}
	out := &settlementv1.ListRunMembersResponse{}
	members, out.NextPageToken = page.Cut(members, size, req, func(m pool.MemberResult) any { return m.Member })
	for _, m := range members {
		out.RunMembers = append(out.RunMembers, a.runMemberToProto(m))
	}
	return out, nil
}

// VerifyRun calculates a run again from its stored inputs. Its lines are read as of one moment; they never change.
func (a *App) VerifyRun(ctx context.Context, req *settlementv1.VerifyRunRequest) (*settlementv1.VerifyRunResponse, error) {
	out := &settlementv1.VerifyRunResponse{}
	return out, a.DB.InSnapshot(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if err := a.Store.Patient(ctx, tx); err != nil {
			return err
		}
		r, err := a.run(ctx, tx, req.GetName())
		if err != nil {
			return err
		}
		if out.Finding, out.Fingerprint, err = a.replay(ctx, tx, r); err != nil {
			return err
		}
		if out.GetFinding() == "" {
			out.Identical, out.Finding = true, fmt.Sprintf("run %s comes out the same, byte for byte", r.Number)
		}
		return nil
	})
}

func (a *App) replay(ctx context.Context, tx pgx.Tx, r *pool.Run) (finding, fingerprint string, err error) {
	heaps, err := a.Store.RunHeaps(ctx, tx, r.ID)
	if err != nil {
		return "", "", err
	}
	replay, err := pool.NewReplay(r, heaps)
	if err != nil {
		return "", "", err
	}
	barrels := pool.Gathering{Each: replay.Add}
	if err := a.Store.RunLines(ctx, tx, r.ID, func(k *pool.Kept) error { return barrels.Add(*k) }); err != nil {
		return "", "", err
	}
	if err := barrels.End(); err != nil {
		return "", "", err
	}
	members, err := a.Store.RunMembers(ctx, tx, r.ID, "", 0)
	if err != nil {
		return "", "", err
	}
	return replay.Finish(members)
}

// closedPools are the pools whose prices are declared.
func (a *App) closedPools(ctx context.Context, q pg.Querier) ([]*domain.ClosedPool, error) {
	runs, err := a.Store.ReleasedRuns(ctx, q)
	if err != nil {
		return nil, err
	}
	closed := make([]*domain.ClosedPool, 0, len(runs))
	for _, r := range runs {
		p, err := a.Store.Pool(ctx, q, r.Pool)
		if err != nil {
			return nil, err
		}
		c, err := r.Declared(p)
		if err != nil {
			return nil, err
		}
		closed = append(closed, c)
	}
	return closed, nil
}
