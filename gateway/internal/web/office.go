package web

import (
	"strings"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

func (s *site) members(v *visit) (view, error) {
	found, err := s.intake.ListMembers(v.ctx, &intakev1.ListMembersRequest{PageSize: 200, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	return view{page: "members", title: "Members", data: map[string]any{
		"Members": found.GetMembers(), "Next": nextPage(v, found.GetNextPageToken()),
		"MayAdd": v.mayCall(createMember), "MayTotal": v.mayCall(getTotal),
	}}, nil
}

func (s *site) newMember(v *visit) (view, error) {
	f := v.form()
	if v.posted {
		_, err := s.intake.CreateMember(v.ctx, &intakev1.CreateMemberRequest{
			RequestId: f.RequestID, MemberNumber: strings.TrimPrefix(memberName(f.Value("member_number")), "members/"),
			DisplayName: f.Value("display_name"), AgreementVersion: f.Value("agreement_version"), JoinDate: f.Value("join_date"),
		})
		if err == nil {
			return view{goTo: "/members"}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	return view{page: "newmember", title: "New member", data: map[string]any{"Form": f}}, nil
}

func (s *site) totals(v *visit) (view, error) {
	found, err := s.settlement.ListMemberTotals(v.ctx, &settlementv1.ListMemberTotalsRequest{PageSize: 500, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	return view{page: "totals", title: "Member totals", data: map[string]any{
		"Totals": found.GetMemberTotals(), "Grand": found.GetGrandTotal(), "Next": nextPage(v, found.GetNextPageToken()), "MayOpen": v.mayCall(getTotal),
	}}, nil
}

func (s *site) unpriced(v *visit) (view, error) {
	req := &settlementv1.ListUnpricedRequest{PageSize: 100, PageToken: v.URL.Query().Get("page")}
	if v.onlyMember() {
		req.Member = v.who.Member
	}
	found, err := s.settlement.ListUnpriced(v.ctx, req)
	if err != nil {
		return view{}, err
	}
	return view{page: "unpriced", title: "Waiting for a price", data: map[string]any{
		"Unpriced": found.GetUnpriced(), "Next": nextPage(v, found.GetNextPageToken()), "Own": v.onlyMember(),
	}}, nil
}
