package app

import (
	"context"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/settlement/internal/domain"
)

// GetPayout reads one payout. A neighbour's does not exist.
func (a *App) GetPayout(ctx context.Context, req *settlementv1.GetPayoutRequest) (*settlementv1.Payout, error) {
	id, err := identity(req.GetName(), "payouts")
	if err != nil {
		return nil, err
	}
	p, err := a.Store.Payout(ctx, a.DB.Pool(), id)
	if err != nil {
		return nil, err
	}
	if p == nil || !access.SeesMember(ctx, p.Barrel.Member) {
		return nil, apierr.NotFound(req.GetName())
	}
	return PayoutToProto(p, a.Terms), nil
}

// member refuses a member the caller may not see exactly as one who does not exist.
func (a *App) member(ctx context.Context, name string) error {
	if !access.SeesMember(ctx, name) {
		return apierr.NotFound(name)
	}
	known, err := a.Store.KnowsMember(ctx, a.DB.Pool(), name)
	if err != nil {
		return err
	}
	if !known {
		return apierr.NotFound(name)
	}
	return nil
}

// ListPayouts pages through a member's payouts, newest first.
func (a *App) ListPayouts(ctx context.Context, req *settlementv1.ListPayoutsRequest) (*settlementv1.ListPayoutsResponse, error) {
	if err := a.member(ctx, req.GetMember()); err != nil {
		return nil, err
	}
	var before int64
	size, err := begin(req, &before)
	if err != nil {
		return nil, err
	}
	found, err := a.Store.MemberPayouts(ctx, a.DB.Pool(), req.GetMember(), before, size+1)
	if err != nil {
		return nil, err
	}
	out := &settlementv1.ListPayoutsResponse{}
	found, out.NextPageToken = page.Cut(found, size, req, func(p *domain.Payout) any { return p.Number })
	for _, p := range found {
		out.Payouts = append(out.Payouts, PayoutToProto(p, a.Terms))
	}
	return out, nil
}
