package app

import (
	"context"
	"errors"
	"fmt"
	"sync"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"golang.org/x/sync/semaphore"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// digests remembers what pools' inputs came to when they were last read, and at which version. One is read at a time.
type digests struct {
	once    sync.Once
	reading *semaphore.Weighted
	mu      sync.Mutex
	known   map[uuid.UUID]digestAt
}

type digestAt struct {
	version     int64
	fingerprint string
}

func (d *digests) get(id uuid.UUID, version int64) (fingerprint string, found bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	at, found := d.known[id]
	return at.fingerprint, found && at.version == version
}

func (d *digests) put(id uuid.UUID, at digestAt) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.known == nil {
		d.known = map[uuid.UUID]digestAt{}
	}
	d.known[id] = at
}

// turn waits until nobody else reads a pool, who may be reading the same one.
func (d *digests) turn(ctx context.Context) (done func(), err error) {
	d.once.Do(func() { d.reading = semaphore.NewWeighted(1) })
	if err := d.reading.Acquire(ctx, 1); err != nil {
		return nil, fmt.Errorf("wait for the turn to read the pool: %w", err)
	}
	return func() { d.reading.Release(1) }, nil
}

// current is the fingerprint of a pool's inputs as they are now. The barrels are read only where no run and nobody before
// has read this version of them.
func (a *App) current(ctx context.Context, id uuid.UUID) (string, error) {
	p, err := a.Store.Pool(ctx, a.DB.Pool(), id)
	if err != nil {
		return "", err
	}
	if p.Closed() {
		return "", nil
	}
	fingerprint, _, found, err := a.remembered(ctx, a.DB.Pool(), p)
	if found || err != nil {
		return fingerprint, err
	}
	done, err := a.digests.turn(ctx)
	if err != nil {
		return "", err
	}
	defer done()
	return fingerprint, a.DB.InSnapshot(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if err := a.Store.Patient(ctx, tx); err != nil {
			return err
		}
		var version int64
		if fingerprint, version, found, err = a.remembered(ctx, tx, p); found || err != nil {
			return err
		}
		if fingerprint, err = a.digest(ctx, tx, id); err == nil {
			a.digests.put(id, digestAt{version, fingerprint})
		}
		return err
	})
}

// remembered is what the inputs came to when they had the version they have now.
func (a *App) remembered(ctx context.Context, q pg.Querier, p *pool.Account) (fingerprint string, version int64, found bool, err error) {
	if version, err = a.Store.InputVersion(ctx, q, p.CropYear); err != nil {
		return "", 0, false, err
	}
	if fingerprint, found = a.digests.get(p.ID, version); found {
		return fingerprint, version, true, nil
	}
	fingerprint, err = a.Store.FingerprintAt(ctx, q, p.ID, version)
	return fingerprint, version, fingerprint != "", err
}

// digest reads all inputs of a pool and gives their fingerprint. Inputs that cannot even be gathered are no run's inputs.
func (a *App) digest(ctx context.Context, q pg.Querier, id uuid.UUID) (string, error) {
	p, err := a.Store.Pool(ctx, q, id)
	if err != nil {
		return "", err
	}
	if p.Closed() {
		return "", nil
	}
	h, err := a.harvest(ctx, q, p)
	if err != nil {
		return "", err
	}
	if err := h.leftOut(ctx, q); err != nil {
		return "", err
	}
	digest, err := pool.NewDigest(h.head)
	if err != nil {
		return "", err
	}
	err = h.barrels(ctx, func(b *pool.Barrel, _ []pool.Kept) error { return digest.Add(b) })
	var forbidden *domain.StateError
	if errors.As(err, &forbidden) {
		return "", nil
	}
	return digest.Sum(), err
}
