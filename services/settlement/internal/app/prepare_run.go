package app

import (
	"cmp"
	"context"
	"fmt"
	"sync"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"golang.org/x/sync/semaphore"
	"google.golang.org/grpc"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// slots bounds how many runs are calculated at once. Each takes three connections and waits for the next while it holds the
// one before: too many of them could wait for one another for ever.
type slots struct {
	once sync.Once
	free *semaphore.Weighted
}

const preparedAtOnce = 2

func (s *slots) take(ctx context.Context) (done func(), err error) {
	s.once.Do(func() { s.free = semaphore.NewWeighted(preparedAtOnce) })
	if err := s.free.Acquire(ctx, 1); err != nil {
		return nil, fmt.Errorf("wait for the turn to calculate: %w", err)
	}
	return func() { s.free.Release(1) }, nil
}

// usualReportEvery is after how many barrels a calculation says how far it is.
const usualReportEvery = 25_000

// progress is told how many of how many barrels are calculated. An error ends the calculation.
type progress func(done, barrels int) error

// PrepareRun calculates the closing of a pool. It pays nothing.
func (a *App) PrepareRun(ctx context.Context, req *settlementv1.PrepareRunRequest) (*settlementv1.Run, error) {
	return a.prepare(ctx, req, func(int, int) error { return nil })
}

// FollowRunPreparation is PrepareRun, and says how far it is. Both answer to one request_id: whichever is sent again, and
// however the first attempt ended, there is one run.
func (a *App) FollowRunPreparation(req *settlementv1.FollowRunPreparationRequest, stream grpc.ServerStreamingServer[settlementv1.FollowRunPreparationResponse]) error {
	r, err := a.prepare(stream.Context(), &settlementv1.PrepareRunRequest{RequestId: req.GetRequestId(), Pool: req.GetPool()}, func(done, barrels int) error {
		return stream.Send(&settlementv1.FollowRunPreparationResponse{BarrelsDone: int32(done), Barrels: int32(barrels)}) //nolint:gosec // counts
	})
	if err != nil {
		return err
	}
	return stream.Send(&settlementv1.FollowRunPreparationResponse{BarrelsDone: r.GetBarrels(), Barrels: r.GetBarrels(), Run: r})
}

// prepare reads the pool from a snapshot and writes its lines while it reads. Nothing is locked meanwhile: a run pays
// nothing, and whatever changed since the snapshot outdates it. It ends with its context, and leaves nothing behind.
func (a *App) prepare(ctx context.Context, req *settlementv1.PrepareRunRequest, report progress) (made *settlementv1.Run, err error) {
	done, err := a.preparing.take(ctx)
	if err != nil {
		return nil, err
	}
	defer done()
	err = a.DB.InSnapshot(ctx, func(ctx context.Context, snapshot pgx.Tx) error {
		made, err = idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.Run, []feed.Fact, error) {
			r, err := a.calculate(ctx, snapshot, tx, req.GetPool(), report)
			if err != nil {
				return nil, nil, err
			}
			if err := a.number(ctx, tx, r, req.GetPool()); err != nil {
				return nil, nil, err
			}
			made, err := a.runToProto(r, r.Fingerprint)
			return made, []feed.Fact{{Aggregate: r.Name(), Payload: &settlementv1.RunPrepared{Run: made}}}, err
		})
		return err
	})
	return made, err
}

// number saves a run under the next number of its crop year, unless its pool was closed since the snapshot.
func (a *App) number(ctx context.Context, tx pgx.Tx, r *pool.Run, name string) error {
	if err := a.Store.LockGate(ctx, tx); err != nil {
		return err
	}
	p, err := a.pool(ctx, tx, name)
	if err != nil {
		return err
	}
	if err := p.MustBeOpen(); err != nil {
		return err
	}
	before, err := a.Store.CountRuns(ctx, tx, p.CropYear)
	if err != nil {
		return err
	}
	r.Number = fmt.Sprintf("R-%d-%02d", p.CropYear, before+1)
	return a.Store.InsertRun(ctx, tx, r)
}

func (a *App) calculate(ctx context.Context, snapshot, tx pgx.Tx, name string, report progress) (*pool.Run, error) {
	for _, t := range []pgx.Tx{snapshot, tx} {
		if err := a.Store.Patient(ctx, t); err != nil {
			return nil, err
		}
	}
	p, err := a.pool(ctx, snapshot, name)
	if err != nil {
		return nil, err
	}
	if err := p.MustBeOpen(); err != nil {
		return nil, err
	}
	h, err := a.harvest(ctx, snapshot, p)
	if err != nil {
		return nil, err
	}
	r := &pool.Run{Pool: p.ID, Preparer: access.From(ctx).Login, PrepareTime: a.Clock.Now()}
	if r.Version, err = a.Store.InputVersion(ctx, snapshot, p.CropYear); err != nil {
		return nil, err
	}
	if r.ID, err = uuid.NewRandom(); err != nil {
		return nil, fmt.Errorf("name the run: %w", err)
	}
	return r, a.settleRun(ctx, snapshot, tx, h, r, report)
}

// harvest is a pool as it is seen by one connection.
type harvest struct {
	store Store
	q     pg.Querier
	pool  *pool.Account
	head  pool.Head
	scope domain.Scope
	sort  *pool.Sorter
}

// harvest begins with everything but the barrels, and without counting those left out.
func (a *App) harvest(ctx context.Context, q pg.Querier, p *pool.Account) (*harvest, error) {
	all, err := a.Store.PoolsOf(ctx, q, p.CropYear)
	if err != nil {
		return nil, err
	}
	entries, err := a.Store.PoolEntries(ctx, q, p.ID, 0, 0)
	if err != nil {
		return nil, err
	}
	h := &harvest{store: a.Store, q: q, pool: p, scope: p.Scope(all), head: pool.NewHead(p, entries)}
	h.sort = pool.NewSorter(h.head)
	return h, nil
}

// barrels hands out the pool's barrels in the order they are fingerprinted.
func (h *harvest) barrels(ctx context.Context, each func(b *pool.Barrel, parts []pool.Kept) error) error {
	together := pool.Gathering{Each: each}
	var k pool.Kept
	err := h.store.Harvest(ctx, h.q, h.scope, func(part *pool.Harvested) (err error) {
		k.Harvested = *part
		if k.Class, err = h.sort.Class(part.Kind); err != nil {
			return err
		}
		return together.Add(k)
	})
	if err != nil {
		return err
	}
	return together.End()
}

// leftOut counts the pool's barrels without an advance, as q sees them.
func (h *harvest) leftOut(ctx context.Context, q pg.Querier) error {
	waiting, err := h.store.UnpricedVarieties(ctx, q, h.pool.CropYear)
	h.head.LeftOut = pool.LeftOut(h.pool, h.scope, waiting)
	return err
}

// start is what must be known before the first barrel can be valued.
type start struct {
	reckoning *pool.Reckoning
	digest    *pool.Digest
}

// weigh declares the prices, from sums only.
func (h *harvest) weigh(ctx context.Context, q pg.Querier) (s start, err error) {
	if err := h.leftOut(ctx, q); err != nil {
		return s, err
	}
	heaps, err := h.store.HarvestHeaps(ctx, q, h.scope, h.sort.Class)
	if err != nil {
		return s, err
	}
	if s.reckoning, err = pool.Reckon(h.head, heaps); err != nil {
		return s, err
	}
	s.digest, err = pool.NewDigest(h.head)
	return s, err
}

// settleRun calculates a run and saves its lines and members as it goes. Three connections work at a time: one puts the
// barrels in order, one sums them up meanwhile and sees the same, and one takes in what is calculated.
func (a *App) settleRun(ctx context.Context, read, tx pgx.Tx, h *harvest, r *pool.Run, report progress) error {
	snapshot, err := a.Store.ExportSnapshot(ctx, read)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var begun start
	weighed := make(chan error, 1)
	go func() {
		weighed <- a.DB.InSnapshot(ctx, func(ctx context.Context, beside pgx.Tx) (err error) {
			if err := a.Store.ImportSnapshot(ctx, beside, snapshot); err != nil {
				return err
			}
			if err := a.Store.Patient(ctx, beside); err != nil {
				return err
			}
			begun, err = h.weigh(ctx, beside)
			return err
		})
	}()
	ready := sync.OnceValue(func() error { return <-weighed })
	every := cmp.Or(a.ReportEvery, usualReportEvery)
	err = a.Store.CopyRunLines(ctx, tx, r.ID, func(write func([]pool.Kept) error) error {
		done := 0
		return h.barrels(ctx, func(b *pool.Barrel, parts []pool.Kept) error {
			if err := ready(); err != nil {
				return err
			}
			if done%every == 0 {
				if err := report(done, begun.reckoning.Prices().Barrels); err != nil {
					return err
				}
			}
			done++
			return begun.settle(b, parts, write)
		})
	})
	if err != nil {
		cancel()
	}
	// The other connection is done with before this one is given back.
	if fault := ready(); err == nil {
		err = fault
	}
	if err != nil {
		return err
	}
	return h.conclude(ctx, tx, r, begun.reckoning, begun.digest)
}

// settle values one barrel.
func (s start) settle(b *pool.Barrel, parts []pool.Kept, write func([]pool.Kept) error) error {
	if err := s.digest.Add(b); err != nil {
		return err
	}
	lines, err := s.reckoning.Value(b)
	if err != nil {
		return err
	}
	for i := range parts {
		parts[i].Value, parts[i].Odd = lines[i].Value, lines[i].Odd
	}
	return write(parts)
}

func (h *harvest) conclude(ctx context.Context, tx pgx.Tx, r *pool.Run, reckoning *pool.Reckoning, digest *pool.Digest) error {
	summary, members, err := reckoning.Finish()
	if err != nil {
		return err
	}
	r.Fingerprint = digest.Sum()
	if r.Inputs, err = h.head.Bytes(); err != nil {
		return err
	}
	if r.Outcome, err = summary.Bytes(); err != nil {
		return err
	}
	return h.store.InsertRunMembers(ctx, tx, r.ID, members)
}
