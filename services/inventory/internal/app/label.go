package app

import (
	"context"

	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/label"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/feed"
)

// ApproveLabel lets a label be used.
type ApproveLabel struct {
	ID, Evidence, Actor string
}

// ApproveLabel records the approval.
func (a *App) ApproveLabel(ctx context.Context, tx pgx.Tx, c ApproveLabel) (label.Label, []feed.Fact, error) {
	l, err := a.Lots.LockLabel(ctx, tx, c.ID)
	if err != nil {
		return l, nil, err
	}
	if l, err = l.Approve(c.Actor, c.Evidence, a.now()); err != nil {
		return l, nil, err
	}
	if err := a.Lots.AddApproval(ctx, tx, l); err != nil {
		return l, nil, err
	}
	return l, []feed.Fact{{Aggregate: l.Name(), OccurTime: l.Approval.Time, Payload: &inventoryv1.LabelApproved{Label: present.Label(l)}}}, nil
}

// claims reads a label, and fails while a charge may not carry it: for what the label is, for the heat of the honey, or with a
// *lots.BreachError for what the blend is, with a *stock.UnprovedError for what its barrels are not certified as.
func (w *work) claims(f lots.Filling, id string) (label.Label, error) {
	l, err := w.Lots.Label(w.ctx, w.tx, id)
	if err != nil {
		return l, err
	}
	warmth, err := w.warmth(w.ctx, w.tx, f.Place())
	if err != nil {
		return l, err
	}
	if err := l.Carries(warmth.Account); err != nil {
		return l, err
	}
	content, err := w.content(w.ctx, w.tx, f.Place())
	if err != nil {
		return l, err
	}
	if err := w.certified(f, l, content); err != nil {
		return l, err
	}
	figures, err := w.judge(w.ctx, w.tx, content, l.Rules)
	if err != nil {
		return l, err
	}
	if len(figures.Breaches) > 0 {
		return l, &lots.BreachError{Charge: f.Place(), Called: f.Called(), Label: l.Name(), Breach: figures.Breaches[0]}
	}
	return l, nil
}
