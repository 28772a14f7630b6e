package app

import (
	"context"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// CompareMembers compares members of different size in a run, naming none.
func (a *App) CompareMembers(ctx context.Context, req *settlementv1.CompareMembersRequest) (*settlementv1.CompareMembersResponse, error) {
	r, err := a.run(ctx, a.DB.Pool(), req.GetRun())
	if err != nil {
		return nil, err
	}
	// Trial runs of a pool differ by a member or two, whom the difference of their groups would give away. A pool is closed by one
	// run, and only that one is shown.
	if r.Releaser == "" {
		return nil, &domain.StateError{Resource: r.Name(), State: "NOT_RELEASED", Message: "members are compared in the run that closed the pool; two trial runs, compared with each other, could give a member away"}
	}
	members, err := a.Store.RunMembers(ctx, a.DB.Pool(), r.ID, "", 0)
	if err != nil {
		return nil, err
	}
	out := &settlementv1.CompareMembersResponse{}
	for _, g := range pool.Groups(members) {
		row := &settlementv1.MemberGroup{Description: g.Description, Suppressed: g.Suppressed}
		if !g.Suppressed {
			row.Members, row.Payable = int32(g.Members), wire.MassToProto(g.Payable, a.Terms.Unit) //nolint:gosec // a count
		}
		if g.Payable > 0 {
			average, err := g.Average()
			if err != nil {
				return nil, err
			}
			row.Average = wire.PriceToProto(average, a.Terms.Currency, a.Terms.Unit)
		}
		out.Groups = append(out.Groups, row)
	}
	return out, nil
}
