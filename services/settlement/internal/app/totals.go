package app

import (
	"context"

	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/settlement/internal/domain"
)

// GetMemberTotal totals what one member has been credited.
func (a *App) GetMemberTotal(ctx context.Context, req *settlementv1.GetMemberTotalRequest) (*settlementv1.MemberTotal, error) {
	if err := a.member(ctx, req.GetMember()); err != nil {
		return nil, err
	}
	totals, err := a.Store.MemberTotals(ctx, a.DB.Pool(), []string{req.GetMember()})
	if err != nil {
		return nil, err
	}
	return totalToProto(totals[0], a.Terms)
}

// ListMemberTotals pages through all members' totals. Rows and grand total are of one moment: the latter would otherwise
// include what was priced in between.
func (a *App) ListMemberTotals(ctx context.Context, req *settlementv1.ListMemberTotalsRequest) (*settlementv1.ListMemberTotalsResponse, error) {
	var after string
	size, err := begin(req, &after)
	if err != nil {
		return nil, err
	}
	out := &settlementv1.ListMemberTotalsResponse{}
	return out, a.DB.InSnapshot(ctx, func(ctx context.Context, tx pgx.Tx) error {
		members, err := a.Store.Members(ctx, tx, after, size+1)
		if err != nil {
			return err
		}
		members, out.NextPageToken = page.Cut(members, size, req, func(m string) any { return m })
		totals, err := a.Store.MemberTotals(ctx, tx, members)
		if err != nil {
			return err
		}
		return a.fillTotals(ctx, tx, totals, out)
	})
}

func (a *App) fillTotals(ctx context.Context, tx pgx.Tx, totals []domain.MemberTotal, out *settlementv1.ListMemberTotalsResponse) error {
	for _, t := range totals {
		row, err := totalToProto(t, a.Terms)
		if err != nil {
			return err
		}
		out.MemberTotals = append(out.MemberTotals, row)
	}
	grand, err := a.Store.GrandTotal(ctx, tx)
	if err != nil {
		return err
	}
	out.GrandTotal, err = totalToProto(grand, a.Terms)
	return err
}
