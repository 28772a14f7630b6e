package office

import (
	"strconv"

	"barrelhead.example/gateway/internal/web/site"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// The RPCs behind the pages of members' capital and of the fairness report.
const (
	listEquity     = settlementv1.SettlementService_ListEquity_FullMethodName
	redeemEquity   = settlementv1.SettlementService_RedeemEquity_FullMethodName
	compareMembers = settlementv1.SettlementService_CompareMembers_FullMethodName
)

// capitalKinds are the classes of capital in plain words; how each is taxed is for the accountant.
var capitalKinds = site.NewOptions(
	"RETAIN_UNDESIGNATED", "kept per pound, class not decided yet", "RETAIN_QUALIFIED", "kept per pound, qualified", "RETAIN_NONQUALIFIED", "kept per pound, nonqualified",
	"PATRONAGE_QUALIFIED", "patronage refund, qualified", "PATRONAGE_NONQUALIFIED", "patronage refund, nonqualified",
)

// equity is the capital a member left in the cooperative, year by year.
func (s room) equity(v *site.Visit) (site.View, error) {
	member := "members/" + v.PathValue("number")
	found, err := s.Settlement.ListEquity(v.Ctx, &settlementv1.ListEquityRequest{Member: member})
	if err != nil {
		return site.View{}, err
	}
	own, back := v.BackTo(member)
	return site.View{Page: "equity", Title: "Capital of " + site.IDOf(member), Data: map[string]any{
		"Member": member, "Equity": found, "Own": own, "Back": back, "MayTotal": v.MayCall(getTotal),
	}}, nil
}

// redeem records the board's resolution to give capital back, oldest year first.
func (s room) redeem(v *site.Visit) (site.View, error) {
	f := v.Form()
	if v.Posted {
		year, _ := strconv.ParseInt(f.Value("crop_year"), 10, 32) // what is no number is refused by its range
		done, err := s.Settlement.RedeemEquity(v.Ctx, &settlementv1.RedeemEquityRequest{
			RequestId: f.RequestID, CropYear: int32(year), Percent: site.Number(f.Value("percent")), Resolution: f.Value("resolution"),
			Estate: site.MemberName(f.Value("estate")),
		})
		if err == nil {
			return site.View{Page: "redeemed", Title: "Capital given back", Status: 200, Data: done}, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	return site.View{Page: "redeem", Title: "Give capital back", Data: map[string]any{"Form": f}}, nil
}

// fairness compares what members of different size got in a run. The groups are fixed and small ones stay hidden, so that no
// question asked here shows a neighbour.
func (s room) fairness(v *site.Visit) (site.View, error) {
	name := "runs/" + v.PathValue("id")
	run, err := s.Settlement.GetRun(v.Ctx, &settlementv1.GetRunRequest{Name: name})
	if err != nil {
		return site.View{}, err
	}
	found, err := s.Settlement.CompareMembers(v.Ctx, &settlementv1.CompareMembersRequest{Run: name})
	if err != nil {
		return site.View{}, err
	}
	hidden := 0
	for _, g := range found.GetGroups() {
		if g.GetSuppressed() {
			hidden++
		}
	}
	return site.View{Page: "fairness", Title: "Large and small in run " + run.GetNumber(), Data: map[string]any{"Run": run, "Groups": found.GetGroups(), "Hidden": hidden}}, nil
}
