package app

import (
	"context"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/pg"
)

// IndicatedScale reads the scale whose indication is asked for. It fails with NOT_FOUND.
func (a *App) IndicatedScale(ctx context.Context, q pg.Querier, id string) (domain.Scale, error) {
	return a.Store.Scale(ctx, q, id)
}

// CaptureIndication keeps a weight that stands on a scale. moved is when the scale was last seen to move. last is the weight
// taken before where that is why this one is refused.
func (a *App) CaptureIndication(ctx context.Context, q pg.Querier, c domain.Capture, moved time.Time) (domain.Capture, *domain.Capture, error) {
	if err := a.Store.LockCaptures(ctx, q, c.Scale); err != nil {
		return c, nil, err
	}
	last, err := a.Store.LastCapture(ctx, q, c.Scale)
	if err != nil {
		return c, nil, err
	}
	if last != nil {
		last.Time = last.Time.In(a.Zone)
	}
	c.Capturer, c.Time = access.From(ctx).Login, a.now()
	if err := c.MayFollow(last, moved, a.CaptureAge, a.Unit); err != nil {
		return c, last, err
	}
	if c.ID, err = uuid.NewV7(); err != nil {
		return c, nil, err
	}
	return c, nil, a.Store.InsertCapture(ctx, q, c)
}

// Captures lists a page of the weights taken from a scale, newest first, and reports whether more follow.
func (a *App) Captures(ctx context.Context, q pg.Querier, scale string, before domain.PageKey, size int) ([]domain.Capture, bool, error) {
	found, err := a.Store.Captures(ctx, q, scale, before, withNext(size))
	page, more := cut(found, size)
	return page, more, err
}

// fromScale puts the captured weight into a weighing at an instant, or refuses one that lacks it. It reads nothing for a
// weighing without.
func (a *App) fromScale(ctx context.Context, q pg.Querier, w domain.Weighing, scale string, capture uuid.UUID, at time.Time, offline bool,
) (domain.Weighing, error) {
	if capture == uuid.Nil {
		return w, w.MayLackCapture(scale, a.Indicated[scale], offline)
	}
	c, err := a.Store.Capture(ctx, q, scale, capture)
	if err != nil {
		return w, err
	}
	return c.Weigh(w, at, a.CaptureAge, a.Unit)
}
