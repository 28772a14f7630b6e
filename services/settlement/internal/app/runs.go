package app

import (
	"context"
	"errors"
	"fmt"
	"sort"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// gather makes the input of a pool's closing from everything known now.
func (a *App) gather(ctx context.Context, q pg.Querier, p *pool.Account) (pool.Input, error) {
	all, err := a.Store.PoolsOf(ctx, q, p.CropYear)
	if err != nil {
		return pool.Input{}, err
	}
	entries, err := a.Store.PoolEntries(ctx, q, p.ID, 0, 0)
	if err != nil {
		return pool.Input{}, err
	}
	harvest, err := a.Store.Harvest(ctx, q, p.CropYear)
	if err != nil {
		return pool.Input{}, err
	}
	waiting, err := a.Store.UnpricedVarieties(ctx, q, p.CropYear)
	if err != nil {
		return pool.Input{}, err
	}
	return pool.Gather(p, p.Scope(all), entries, harvest, waiting)
}

// current is the fingerprint of a pool's inputs as they are now. Inputs that cannot even be gathered are no run's inputs.
func (a *App) current(ctx context.Context, q pg.Querier, id uuid.UUID) (string, error) {
	p, err := a.Store.Pool(ctx, q, id)
	if err != nil {
		return "", err
	}
	if p.Closed() {
		return "", nil
	}
	in, err := a.gather(ctx, q, p)
	var forbidden *domain.StateError
	if errors.As(err, &forbidden) {
		return "", nil
	}
	if err != nil {
		return "", err
	}
	raw, err := in.Bytes()
	return pool.Fingerprint(raw), err
}

// PrepareRun calculates the closing of a pool. It pays nothing.
func (a *App) PrepareRun(ctx context.Context, req *settlementv1.PrepareRunRequest) (*settlementv1.Run, error) {
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.Run, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		p, err := a.pool(ctx, tx, req.GetPool())
		if err != nil {
			return nil, nil, err
		}
		if err := p.MustBeOpen(); err != nil {
			return nil, nil, err
		}
		r, err := a.calculate(ctx, tx, p)
		if err != nil {
			return nil, nil, err
		}
		if err := a.Store.InsertRun(ctx, tx, r); err != nil {
			return nil, nil, err
		}
		made, err := a.runToProto(r, r.Fingerprint)
		return made, []feed.Fact{{Aggregate: r.Name(), Payload: &settlementv1.RunPrepared{Run: made}}}, err
	})
}

func (a *App) calculate(ctx context.Context, tx pgx.Tx, p *pool.Account) (*pool.Run, error) {
	in, err := a.gather(ctx, tx, p)
	if err != nil {
		return nil, err
	}
	result, err := pool.Close(in)
	if err != nil {
		return nil, err
	}
	before, err := a.Store.CountRuns(ctx, tx, p.CropYear)
	if err != nil {
		return nil, err
	}
	r := &pool.Run{
		Pool: p.ID, Number: fmt.Sprintf("R-%d-%02d", p.CropYear, before+1), Preparer: access.From(ctx).Login, PrepareTime: a.Clock.Now(),
	}
	if r.ID, err = uuid.NewRandom(); err != nil {
		return nil, fmt.Errorf("name the run: %w", err)
	}
	if r.Inputs, err = in.Bytes(); err != nil {
		return nil, err
	}
	r.Fingerprint = pool.Fingerprint(r.Inputs)
	r.Outcome, err = result.Bytes()
	return r, err
}

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
	current, err := a.current(ctx, a.DB.Pool(), r.Pool)
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
	current, err := a.current(ctx, a.DB.Pool(), p.ID)
	if err != nil {
		return nil, err
	}
	out := &settlementv1.ListRunsResponse{}
	found, out.NextPageToken = cut(found, size, req, func(r *pool.Run) any { return r.Place })
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
	result, err := pool.ReadResult(r.Outcome)
	if err != nil {
		return nil, err
	}
	from := sort.Search(len(result.Members), func(i int) bool { return result.Members[i].Member > after })
	out := &settlementv1.ListRunMembersResponse{}
	rest, token := cut(result.Members[from:], size, req, func(m pool.MemberResult) any { return m.Member })
	out.NextPageToken = token
	for _, m := range rest {
		out.RunMembers = append(out.RunMembers, a.runMemberToProto(m))
	}
	return out, nil
}

// VerifyRun calculates a run again from its stored inputs.
func (a *App) VerifyRun(ctx context.Context, req *settlementv1.VerifyRunRequest) (*settlementv1.VerifyRunResponse, error) {
	r, err := a.run(ctx, a.DB.Pool(), req.GetName())
	if err != nil {
		return nil, err
	}
	finding, err := pool.Replay(r.Inputs, r.Outcome, r.Fingerprint)
	if err != nil {
		return nil, err
	}
	out := &settlementv1.VerifyRunResponse{Identical: finding == "", Fingerprint: pool.Fingerprint(r.Inputs), Finding: finding}
	if out.GetIdentical() {
		out.Finding = fmt.Sprintf("run %s comes out the same, byte for byte", r.Number)
	}
	return out, nil
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
