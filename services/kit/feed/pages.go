package feed

import (
	"context"
	"sync"
	"time"

	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/pg"
)

// pageLife is how long a page is kept for other streams. Neighbours that keep up ask for the same page within moments.
const pageLife = time.Second

// pages lets streams at the same position share one reading of the log, which a commit wakes all at once. What follows a
// position never changes, so a page that was read is right for everybody; only "nothing yet" is each stream's own.
type pages struct {
	gather time.Duration // between two readings that reach the head, so that the commits of a busy moment come together
	mu     sync.Mutex
	recent map[place]*reading
	head   time.Time // of the last reading that reached the head
}

type place struct {
	after int64
	most  int
}

type reading struct {
	began time.Time
	done  chan struct{}
	page  *page // nil when it failed or found nothing
}

func newPages(gather time.Duration) *pages {
	return &pages{gather: gather, recent: map[place]*reading{}}
}

// read returns the page after a position, from another stream's reading where there is one.
func (p *pages) read(ctx context.Context, db pg.Querier, at place) (*page, error) {
	r, first := p.join(at)
	if first {
		return p.lead(ctx, db, at, r)
	}
	select {
	case <-r.done:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	if r.page != nil {
		return r.page, nil
	}
	// That reading may be older than the commit that woke this stream.
	return readPage(ctx, db, at.after, at.most)
}

// join finds a reading of the same page or begins one.
func (p *pages) join(at place) (_ *reading, first bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	now := clock.System.Now()
	for place, r := range p.recent {
		if now.Sub(r.began) > pageLife {
			delete(p.recent, place)
		}
	}
	if r, ok := p.recent[at]; ok {
		return r, false
	}
	r := &reading{began: now, done: make(chan struct{})}
	p.recent[at] = r
	return r, true
}

// lead reads for all who join meanwhile.
func (p *pages) lead(ctx context.Context, db pg.Querier, at place, r *reading) (found *page, err error) {
	defer func() {
		p.finish(at, r, found)
		close(r.done)
	}()
	if err := p.pause(ctx); err != nil {
		return nil, err
	}
	return readPage(ctx, db, at.after, at.most)
}

// pause waits until the head may be read again.
func (p *pages) pause(ctx context.Context) error {
	p.mu.Lock()
	left := p.head.Add(p.gather).Sub(clock.System.Now())
	p.mu.Unlock()
	if left <= 0 {
		return ctx.Err()
	}
	timer := time.NewTimer(left)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// finish keeps what was found for others, or forgets the reading.
func (p *pages) finish(at place, r *reading, found *page) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if found != nil && found.through() == found.head.sequence {
		p.head = clock.System.Now()
	}
	if found != nil && len(found.records) > 0 {
		r.page = found
		return
	}
	if p.recent[at] == r {
		delete(p.recent, at)
	}
}
