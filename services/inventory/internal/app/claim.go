package app

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/blend"
	"barrelhead.example/services/inventory/internal/domain/label"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// Claims is where tests and approvals of claims are kept.
type Claims interface {
	AddClaimTest(ctx context.Context, q pg.Querier, t stock.ClaimTest) error
	AddClaimApproval(ctx context.Context, q pg.Querier, a stock.ClaimApproval) error
	AddClaimWithdrawal(ctx context.Context, q pg.Querier, a stock.ClaimApproval) error
	// Claimed lists the barrels a claim stands approved for.
	Claimed(ctx context.Context, q pg.Querier, claim string) ([]uuid.UUID, error)
}

// delivery locks the delivered barrel that a container was filled from, itself if from none: claims are decided there, one at a time.
func (w *work) delivery(barrel uuid.UUID) (stock.Item, error) {
	i, err := w.Stock.Item(w.ctx, w.tx, barrel)
	if err != nil {
		return i, err
	}
	return w.Stock.Lock(w.ctx, w.tx, i.Root)
}

// DrawnFrom is the barrel a blind sample was drawn from.
func (a *App) DrawnFrom(ctx context.Context, q pg.Querier, sample string) (uuid.UUID, error) {
	barrels, err := a.Stock.DrawnFrom(ctx, q, []string{sample})
	if err != nil {
		return uuid.Nil, err
	}
	barrel, known := barrels[sample]
	if !known {
		return uuid.Nil, &stock.NotFoundError{Resource: sample}
	}
	return barrel, nil
}

// RecordClaimTest records a test of a barrel. An approval does not survive a test that contradicts it.
func (a *App) RecordClaimTest(ctx context.Context, tx pgx.Tx, t stock.ClaimTest) (stock.ClaimTest, []feed.Fact, error) {
	w := a.work(ctx, tx, t.Recorder)
	i, err := w.delivery(t.Barrel)
	if err != nil {
		return t, nil, err
	}
	t.ID, t.Barrel, t.Time = uuid.New(), i.Barrel, a.now()
	if err := a.Lots.AddClaimTest(ctx, tx, t); err != nil {
		return t, nil, err
	}
	facts := []feed.Fact{{Aggregate: stock.Name(i.Barrel), OccurTime: t.Time, Payload: &inventoryv1.ClaimTested{Test: present.ClaimTest(t)}}}
	if approval := i.Claim(t.Claim).Approved; t.Outcome != stock.Contradicts || approval == nil || approval.Withdrawn != nil {
		return t, facts, nil
	}
	_, ended, err := w.withdraw(i, t.Claim, "test report "+t.Report+" contradicts it")
	return t, append(facts, ended...), err
}

// ApproveClaim lets blends and labels rest on a claim of a barrel.
func (a *App) ApproveClaim(ctx context.Context, tx pgx.Tx, barrel uuid.UUID, claim, evidence, actor string) (stock.ClaimApproval, []feed.Fact, error) {
	i, err := a.work(ctx, tx, actor).delivery(barrel)
	if err != nil {
		return stock.ClaimApproval{}, nil, err
	}
	approval, err := i.ApproveClaim(claim, evidence, actor, a.now())
	if err != nil {
		return approval, nil, err
	}
	approval.ID = uuid.New()
	if err := a.Lots.AddClaimApproval(ctx, tx, approval); err != nil {
		return approval, nil, err
	}
	return approval, []feed.Fact{{
		Aggregate: stock.Name(i.Barrel), OccurTime: approval.Time, Payload: &inventoryv1.ClaimApproved{Approval: present.ClaimApproval(approval)},
	}}, nil
}

// WithdrawClaim ends the approval of a claim of a barrel. What was packed under it stays packed.
func (a *App) WithdrawClaim(ctx context.Context, tx pgx.Tx, barrel uuid.UUID, claim, reason, actor string) (stock.ClaimApproval, []feed.Fact, error) {
	w := a.work(ctx, tx, actor)
	i, err := w.delivery(barrel)
	if err != nil {
		return stock.ClaimApproval{}, nil, err
	}
	return w.withdraw(i, claim, reason)
}

func (w *work) withdraw(i stock.Item, claim, reason string) (stock.ClaimApproval, []feed.Fact, error) {
	ended, err := i.WithdrawClaim(claim, stock.Withdrawal{Withdrawer: w.actor, Reason: reason, Time: w.now()})
	if err != nil {
		return ended, nil, err
	}
	if err := w.Lots.AddClaimWithdrawal(w.ctx, w.tx, ended); err != nil {
		return ended, nil, err
	}
	return ended, []feed.Fact{{
		Aggregate: stock.Name(i.Barrel), OccurTime: ended.Withdrawn.Time, Payload: &inventoryv1.ClaimWithdrawn{Approval: present.ClaimApproval(ended)},
	}}, nil
}

// certified fails while a certified claim of a label does not stand for every barrel of a content, the heel's included.
func (w *work) certified(f lots.Filling, l label.Label, content []lots.Part) error {
	if len(l.Face.Certified) == 0 {
		return nil
	}
	ids := make([]uuid.UUID, len(content))
	for n, part := range content {
		ids[n] = uuid.MustParse(part.Place.ID())
	}
	barrels, err := w.Stock.Barrels(w.ctx, w.tx, ids)
	if err != nil {
		return err
	}
	return stock.Certified(string(f.Place()), f.Called(), l.Name(), l.Face.Certified, barrels) //nolint:wrapcheck // says which barrels
}

// TakeClaimed adds to a group of an order every barrel a claim stands approved for.
func (a *App) TakeClaimed(ctx context.Context, g blend.Group, claim string) error {
	barrels, err := a.Lots.Claimed(ctx, a.DB.Pool(), claim)
	for _, b := range barrels {
		g.Barrels[b.String()] = true
	}
	return err
}
