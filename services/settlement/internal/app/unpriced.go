package app

import (
	"cmp"
	"context"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/settlement/internal/domain"
)

// ListUnpriced pages through the barrels that have earned nothing yet and says why.
func (a *App) ListUnpriced(ctx context.Context, req *settlementv1.ListUnpricedRequest) (*settlementv1.ListUnpricedResponse, error) {
	member := req.GetMember()
	if member != "" {
		if err := a.member(ctx, member); err != nil {
			return nil, err
		}
	} else if actor := access.From(ctx); actor.OnlyMember() {
		if member = actor.Member; member == "" {
			return nil, apierr.NotFound("members/")
		}
	}
	var after domain.AgeKey
	size, err := begin(req, &after)
	if err != nil {
		return nil, err
	}
	return a.unpriced(ctx, req, member, after, size)
}

func (a *App) unpriced(ctx context.Context, req *settlementv1.ListUnpricedRequest, member string, after domain.AgeKey, size int) (*settlementv1.ListUnpricedResponse, error) {
	found, err := a.Store.Unpriced(ctx, a.DB.Pool(), member, after, size+1)
	if err != nil {
		return nil, err
	}
	pricer, err := a.pricerFor(ctx, a.DB.Pool())
	if err != nil {
		return nil, err
	}
	out := &settlementv1.ListUnpricedResponse{}
	found, out.NextPageToken = page.Cut(found, size, req, func(s domain.Situation) any {
		return domain.AgeKey{Date: s.Barrel.Date, Barrel: s.Barrel.Barrel}
	})
	for _, s := range found {
		out.Unpriced = append(out.Unpriced, unpricedToProto(s, member, pricer))
	}
	return out, nil
}

// unpricedToProto writes a barrel that waits, for the owner that asks: a shared barrel names no other.
func unpricedToProto(s domain.Situation, owner string, pricer *domain.Pricer) *settlementv1.Unpriced {
	return &settlementv1.Unpriced{
		Barrel: "barrels/" + s.Barrel.Barrel.String(), Member: cmp.Or(owner, s.Barrel.Member), DrumTag: s.Barrel.DrumTag,
		Reason: pricer.Waiting(s), DeliveryDate: string(s.Barrel.Date),
	}
}
