package office

import (
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

func (s room) members(v *site.Visit) (site.View, error) {
	found, err := s.Intake.ListMembers(v.Ctx, &intakev1.ListMembersRequest{PageSize: 200, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "members", Title: "Members", Data: map[string]any{
		"Members": found.GetMembers(), "Next": site.NextPage(v, found.GetNextPageToken()),
		"MayAdd": v.MayCall(createMember), "MayTotal": v.MayCall(getTotal),
	}}, nil
}

func (s room) newMember(v *site.Visit) (site.View, error) {
	f := v.Form()
	if v.Posted {
		_, err := s.Intake.CreateMember(v.Ctx, &intakev1.CreateMemberRequest{
			RequestId: f.RequestID, MemberNumber: strings.TrimPrefix(site.MemberName(f.Value("member_number")), "members/"),
			DisplayName: f.Value("display_name"), AgreementVersion: f.Value("agreement_version"), JoinDate: f.Value("join_date"),
		})
		if err == nil {
			return site.View{GoTo: "/members"}, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	return site.View{Page: "newmember", Title: "New member", Data: map[string]any{"Form": f}}, nil
}

func (s room) totals(v *site.Visit) (site.View, error) {
	found, err := s.Settlement.ListMemberTotals(v.Ctx, &settlementv1.ListMemberTotalsRequest{PageSize: 500, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "totals", Title: "Member totals", Data: map[string]any{
		"Totals": found.GetMemberTotals(), "Grand": found.GetGrandTotal(), "Next": site.NextPage(v, found.GetNextPageToken()), "MayOpen": v.MayCall(getTotal),
	}}, nil
}

func (s room) unpriced(v *site.Visit) (site.View, error) {
	req := &settlementv1.ListUnpricedRequest{PageSize: 100, PageToken: v.URL.Query().Get("page")}
	if v.OnlyMember() {
		req.Member = v.Who.Member
	}
	found, err := s.Settlement.ListUnpriced(v.Ctx, req)
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "unpriced", Title: "Waiting for a price", Data: map[string]any{
		"Unpriced": found.GetUnpriced(), "Next": site.NextPage(v, found.GetNextPageToken()), "Own": v.OnlyMember(),
	}}, nil
}
