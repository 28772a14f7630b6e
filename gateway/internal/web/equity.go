package web

import (
	"strconv"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// The RPCs behind the pages of members' capital and of the fairness report.
const (
	listEquity     = settlementv1.SettlementService_ListEquity_FullMethodName
	redeemEquity   = settlementv1.SettlementService_RedeemEquity_FullMethodName
	compareMembers = settlementv1.SettlementService_CompareMembers_FullMethodName
)

// capitalKinds are the classes of capital in plain words; how each is taxed is for the accountant.
var capitalKinds = newOptions(
	"RETAIN_UNDESIGNATED", "kept per pound, class not decided yet", "RETAIN_QUALIFIED", "kept per pound, qualified", "RETAIN_NONQUALIFIED", "kept per pound, nonqualified",
	"PATRONAGE_QUALIFIED", "patronage refund, qualified", "PATRONAGE_NONQUALIFIED", "patronage refund, nonqualified",
)

// equity is the capital a member left in the cooperative, year by year.
func (s *site) equity(v *visit) (view, error) {
	member := "members/" + v.PathValue("number")
	found, err := s.settlement.ListEquity(v.ctx, &settlementv1.ListEquityRequest{Member: member})
	if err != nil {
		return view{}, err
	}
	own, back := v.backTo(member)
	return view{page: "equity", title: "Capital of " + idOf(member), data: map[string]any{
		"Member": member, "Equity": found, "Own": own, "Back": back, "MayTotal": v.mayCall(getTotal),
	}}, nil
}

// redeem records the board's resolution to give capital back, oldest year first.
func (s *site) redeem(v *visit) (view, error) {
	f := v.form()
	if v.posted {
		year, _ := strconv.ParseInt(f.Value("crop_year"), 10, 32) // what is no number is refused by its range
		done, err := s.settlement.RedeemEquity(v.ctx, &settlementv1.RedeemEquityRequest{
			RequestId: f.RequestID, CropYear: int32(year), Percent: decimal(f.Value("percent")), Resolution: f.Value("resolution"),
			Estate: memberName(f.Value("estate")),
		})
		if err == nil {
			return view{page: "redeemed", title: "Capital given back", status: 200, data: done}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	return view{page: "redeem", title: "Give capital back", data: map[string]any{"Form": f}}, nil
}

// fairness compares what members of different size got in a run. The groups are fixed and small ones stay hidden, so that no
// question asked here shows a neighbour.
func (s *site) fairness(v *visit) (view, error) {
	name := "runs/" + v.PathValue("id")
	run, err := s.settlement.GetRun(v.ctx, &settlementv1.GetRunRequest{Name: name})
	if err != nil {
		return view{}, err
	}
	found, err := s.settlement.CompareMembers(v.ctx, &settlementv1.CompareMembersRequest{Run: name})
	if err != nil {
		return view{}, err
	}
	hidden := 0
	for _, g := range found.GetGroups() {
		if g.GetSuppressed() {
			hidden++
		}
	}
	return view{page: "fairness", title: "Large and small in run " + run.GetNumber(), data: map[string]any{"Run": run, "Groups": found.GetGroups(), "Hidden": hidden}}, nil
}
