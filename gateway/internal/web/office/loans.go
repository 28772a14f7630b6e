package office

import (
	"barrelhead.example/gateway/internal/web/site"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/clock"
)

// The RPCs behind the pages of loans and of charges beside the barrels.
const (
	proposeLoan  = settlementv1.MemberAccountService_ProposeLoan_FullMethodName
	approveLoan  = settlementv1.MemberAccountService_ApproveLoan_FullMethodName
	payLoan      = settlementv1.MemberAccountService_RecordLoanPayment_FullMethodName
	getLoan      = settlementv1.MemberAccountService_GetLoan_FullMethodName
	listLoans    = settlementv1.MemberAccountService_ListLoans_FullMethodName
	chargeMember = settlementv1.MemberAccountService_ChargeMember_FullMethodName
	listCharges  = settlementv1.MemberAccountService_ListMemberCharges_FullMethodName
)

var (
	loanPurposes = site.NewOptions("CASH", "money", "SUPPLIES", "bees, feed, containers", "OVER_ADVANCE", "an advance that was too high")
	dayCounts    = site.NewOptions("ACTUAL_365", "days over 365", "ACTUAL_360", "days over 360")
	chargeKinds  = site.NewOptions("CORRECTION", "correction", "HAULING", "hauling", "CHECK_OFF", "assessment passed on", "CONTAINER", "containers", "SERVICE", "another service")
)

func (s room) memberLoans(v *site.Visit) (site.View, error) {
	return s.loansOf(v, "members/"+v.PathValue("number"))
}

func (s room) loans(v *site.Visit) (site.View, error) {
	if v.OnlyMember() {
		return s.loansOf(v, v.Who.Member)
	}
	return s.loansOf(v, "")
}

// loansOf lists a member's loans, or everybody's.
func (s room) loansOf(v *site.Visit, member string) (site.View, error) {
	found, err := s.Accounts.ListLoans(v.Ctx, &settlementv1.ListLoansRequest{Member: member, PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	own, back := v.BackTo(member)
	return site.View{Page: "loans", Title: "Loans", Data: map[string]any{
		"Loans": found.GetLoans(), "Member": member, "Own": own, "Back": back, "MayPropose": member != "" && v.MayCall(proposeLoan), "Next": site.NextPage(v, found.GetNextPageToken()),
	}}, nil
}

func (s room) readLoan(v *site.Visit) (*settlementv1.Loan, error) {
	return s.Accounts.GetLoan(v.Ctx, &settlementv1.GetLoanRequest{Name: "loans/" + v.PathValue("id"), AsOfDate: v.URL.Query().Get("as_of")})
}

func (s room) loan(v *site.Visit) (site.View, error) {
	f := v.Form()
	l, err := s.readLoan(v)
	if f.Value("as_of") != "" && f.Refused(v, err) {
		// The loan as it stands today, with what is wrong with the day that was asked for.
		f.Wrong("as_of", f.Fault("as_of_date"))
		l, err = s.Accounts.GetLoan(v.Ctx, &settlementv1.GetLoanRequest{Name: "loans/" + v.PathValue("id")})
	}
	if err != nil {
		return site.View{}, err
	}
	f.Set("as_of", l.GetAsOfDate())
	return site.View{Page: "loan", Title: "Loan " + l.GetNumber(), Data: map[string]any{
		"Form": f, "Loan": l, "Own": v.OnlyMember(),
		"MayLend":    l.GetState() == settlementv1.LoanState_LOAN_STATE_PROPOSED,
		"MayApprove": l.GetState() == settlementv1.LoanState_LOAN_STATE_PROPOSED && v.MayCall(approveLoan), "MayPay": l.GetState() == settlementv1.LoanState_LOAN_STATE_OPEN && v.MayCall(payLoan),
	}}, nil
}

// newLoan writes a loan down; nothing is lent before the board approves it.
func (s room) newLoan(v *site.Visit) (site.View, error) {
	f := v.Form()
	f.Set("day_count", "ACTUAL_365")
	member := "members/" + v.PathValue("number")
	return s.PlainTask(v, f, "newloan", "Propose a loan", map[string]any{"Member": member, "Purposes": loanPurposes, "DayCounts": dayCounts}, func() (string, error) {
		made, err := s.Accounts.ProposeLoan(v.Ctx, &settlementv1.ProposeLoanRequest{RequestId: f.RequestID, Loan: &settlementv1.Loan{
			Member: member, Principal: s.TypedMoney(f.Value("principal")), AnnualRatePercent: site.Number(f.Value("annual_rate_percent")), DeductionPercent: site.Number(f.Value("deduction_percent")), Authority: f.Value("authority"),
			Purpose:  settlementv1.LoanPurpose(settlementv1.LoanPurpose_value["LOAN_PURPOSE_"+f.Value("purpose")]),
			DayCount: settlementv1.DayCount(settlementv1.DayCount_value["DAY_COUNT_"+f.Value("day_count")]),
		}})
		return "/loans/" + site.IDOf(made.GetName()), err
	})
}

func (s room) approveLoan(v *site.Visit) (site.View, error) {
	l, err := s.readLoan(v)
	if err != nil {
		return site.View{}, err
	}
	f := v.Form()
	return s.PlainTask(v, f, "approveloan", "Approve "+l.GetNumber(), map[string]any{"Loan": l}, func() (string, error) {
		_, err := s.Accounts.ApproveLoan(v.Ctx, &settlementv1.ApproveLoanRequest{RequestId: f.RequestID, Name: l.GetName(), Resolution: f.Value("resolution")})
		return "/loans/" + site.IDOf(l.GetName()), err
	})
}

func (s room) payLoan(v *site.Visit) (site.View, error) {
	l, err := s.readLoan(v)
	if err != nil {
		return site.View{}, err
	}
	f := v.Form()
	f.Set("entry_date", clock.Today(s.Clock, s.Zone))
	return s.PlainTask(v, f, "payloan", "Payment on "+l.GetNumber(), map[string]any{"Loan": l}, func() (string, error) {
		_, err := s.Accounts.RecordLoanPayment(v.Ctx, &settlementv1.RecordLoanPaymentRequest{
			RequestId: f.RequestID, Name: l.GetName(), Amount: s.TypedMoney(f.Value("amount")), EntryDate: f.Value("entry_date"), Document: f.Value("document"),
		})
		return "/loans/" + site.IDOf(l.GetName()), err
	})
}

// charges are what was taken or credited beside the barrels, each with the paper that allows it.
func (s room) charges(v *site.Visit) (site.View, error) {
	member := "members/" + v.PathValue("number")
	found, err := s.Accounts.ListMemberCharges(v.Ctx, &settlementv1.ListMemberChargesRequest{Member: member, PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	own, back := v.BackTo(member)
	return site.View{Page: "charges", Title: "Charges", Data: map[string]any{
		"Charges": found.GetCharges(), "Member": member, "Own": own, "Back": back, "MayCharge": v.MayCall(chargeMember), "Next": site.NextPage(v, found.GetNextPageToken()),
	}}, nil
}

// newCharge takes an amount off a member's account, or credits one: the sign follows from what the office says it does.
func (s room) newCharge(v *site.Visit) (site.View, error) {
	f := v.Form()
	f.Set("entry_date", clock.Today(s.Clock, s.Zone))
	f.Set("does", "OFF")
	member := "members/" + v.PathValue("number")
	return s.PlainTask(v, f, "newcharge", "Charge or credit", map[string]any{"Member": member, "Kinds": chargeKinds}, func() (string, error) {
		amount := s.TypedMoney(f.Value("amount"))
		if amount != nil && f.Value("does") == "OFF" && !site.Negative(amount) {
			amount.Amount = "-" + amount.GetAmount()
		}
		_, err := s.Accounts.ChargeMember(v.Ctx, &settlementv1.ChargeMemberRequest{RequestId: f.RequestID, Charge: &settlementv1.MemberCharge{
			Member: member, Amount: amount, Description: f.Value("description"), Authority: f.Value("authority"), EntryDate: f.Value("entry_date"),
			Kind: settlementv1.ChargeKind(settlementv1.ChargeKind_value["CHARGE_KIND_"+f.Value("kind")]),
		}})
		return "/" + member + "/charges", err
	})
}
