package web

import (
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
	loanPurposes = newOptions("CASH", "money", "SUPPLIES", "bees, feed, containers", "OVER_ADVANCE", "an advance that was too high")
	dayCounts    = newOptions("ACTUAL_365", "days over 365", "ACTUAL_360", "days over 360")
	chargeKinds  = newOptions("CORRECTION", "correction", "HAULING", "hauling", "CHECK_OFF", "assessment passed on", "CONTAINER", "containers", "SERVICE", "another service")
)

func (s *site) memberLoans(v *visit) (view, error) {
	return s.loansOf(v, "members/"+v.PathValue("number"))
}

func (s *site) loans(v *visit) (view, error) {
	if v.onlyMember() {
		return s.loansOf(v, v.who.Member)
	}
	return s.loansOf(v, "")
}

// loansOf lists a member's loans, or everybody's.
func (s *site) loansOf(v *visit, member string) (view, error) {
	found, err := s.accounts.ListLoans(v.ctx, &settlementv1.ListLoansRequest{Member: member, PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	own, back := v.backTo(member)
	return view{page: "loans", title: "Loans", data: map[string]any{
		"Loans": found.GetLoans(), "Member": member, "Own": own, "Back": back, "MayPropose": member != "" && v.mayCall(proposeLoan), "Next": nextPage(v, found.GetNextPageToken()),
	}}, nil
}

func (s *site) readLoan(v *visit) (*settlementv1.Loan, error) {
	return s.accounts.GetLoan(v.ctx, &settlementv1.GetLoanRequest{Name: "loans/" + v.PathValue("id"), AsOfDate: v.URL.Query().Get("as_of")})
}

func (s *site) loan(v *visit) (view, error) {
	f := v.form()
	l, err := s.readLoan(v)
	if f.Value("as_of") != "" && f.refused(v, err) {
		// The loan as it stands today, with what is wrong with the day that was asked for.
		f.faults["as_of"] = f.faults["as_of_date"]
		l, err = s.accounts.GetLoan(v.ctx, &settlementv1.GetLoanRequest{Name: "loans/" + v.PathValue("id")})
	}
	if err != nil {
		return view{}, err
	}
	f.set("as_of", l.GetAsOfDate())
	return view{page: "loan", title: "Loan " + l.GetNumber(), data: map[string]any{
		"Form": f, "Loan": l, "Own": v.onlyMember(),
		"MayLend":    l.GetState() == settlementv1.LoanState_LOAN_STATE_PROPOSED,
		"MayApprove": l.GetState() == settlementv1.LoanState_LOAN_STATE_PROPOSED && v.mayCall(approveLoan), "MayPay": l.GetState() == settlementv1.LoanState_LOAN_STATE_OPEN && v.mayCall(payLoan),
	}}, nil
}

// newLoan writes a loan down; nothing is lent before the board approves it.
func (s *site) newLoan(v *visit) (view, error) {
	f := v.form()
	f.set("day_count", "ACTUAL_365")
	member := "members/" + v.PathValue("number")
	return s.plainTask(v, f, "newloan", "Propose a loan", map[string]any{"Member": member, "Purposes": loanPurposes, "DayCounts": dayCounts}, func() (string, error) {
		made, err := s.accounts.ProposeLoan(v.ctx, &settlementv1.ProposeLoanRequest{RequestId: f.RequestID, Loan: &settlementv1.Loan{
			Member: member, Principal: s.typedMoney(f.Value("principal")), AnnualRatePercent: decimal(f.Value("annual_rate_percent")), DeductionPercent: decimal(f.Value("deduction_percent")), Authority: f.Value("authority"),
			Purpose:  settlementv1.LoanPurpose(settlementv1.LoanPurpose_value["LOAN_PURPOSE_"+f.Value("purpose")]),
			DayCount: settlementv1.DayCount(settlementv1.DayCount_value["DAY_COUNT_"+f.Value("day_count")]),
		}})
		return "/loans/" + idOf(made.GetName()), err
	})
}

func (s *site) approveLoan(v *visit) (view, error) {
	l, err := s.readLoan(v)
	if err != nil {
		return view{}, err
	}
	f := v.form()
	return s.plainTask(v, f, "approveloan", "Approve "+l.GetNumber(), map[string]any{"Loan": l}, func() (string, error) {
		_, err := s.accounts.ApproveLoan(v.ctx, &settlementv1.ApproveLoanRequest{RequestId: f.RequestID, Name: l.GetName(), Resolution: f.Value("resolution")})
		return "/loans/" + idOf(l.GetName()), err
	})
}

func (s *site) payLoan(v *visit) (view, error) {
	l, err := s.readLoan(v)
	if err != nil {
		return view{}, err
	}
	f := v.form()
	f.set("entry_date", clock.Today(s.Clock, s.zone))
	return s.plainTask(v, f, "payloan", "Payment on "+l.GetNumber(), map[string]any{"Loan": l}, func() (string, error) {
		_, err := s.accounts.RecordLoanPayment(v.ctx, &settlementv1.RecordLoanPaymentRequest{
			RequestId: f.RequestID, Name: l.GetName(), Amount: s.typedMoney(f.Value("amount")), EntryDate: f.Value("entry_date"), Document: f.Value("document"),
		})
		return "/loans/" + idOf(l.GetName()), err
	})
}

// charges are what was taken or credited beside the barrels, each with the paper that allows it.
func (s *site) charges(v *visit) (view, error) {
	member := "members/" + v.PathValue("number")
	found, err := s.accounts.ListMemberCharges(v.ctx, &settlementv1.ListMemberChargesRequest{Member: member, PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	own, back := v.backTo(member)
	return view{page: "charges", title: "Charges", data: map[string]any{
		"Charges": found.GetCharges(), "Member": member, "Own": own, "Back": back, "MayCharge": v.mayCall(chargeMember), "Next": nextPage(v, found.GetNextPageToken()),
	}}, nil
}

// newCharge takes an amount off a member's account, or credits one: the sign follows from what the office says it does.
func (s *site) newCharge(v *visit) (view, error) {
	f := v.form()
	f.set("entry_date", clock.Today(s.Clock, s.zone))
	f.set("does", "OFF")
	member := "members/" + v.PathValue("number")
	return s.plainTask(v, f, "newcharge", "Charge or credit", map[string]any{"Member": member, "Kinds": chargeKinds}, func() (string, error) {
		amount := s.typedMoney(f.Value("amount"))
		if amount != nil && f.Value("does") == "OFF" && !negative(amount) {
			amount.Amount = "-" + amount.GetAmount()
		}
		_, err := s.accounts.ChargeMember(v.ctx, &settlementv1.ChargeMemberRequest{RequestId: f.RequestID, Charge: &settlementv1.MemberCharge{
			Member: member, Amount: amount, Description: f.Value("description"), Authority: f.Value("authority"), EntryDate: f.Value("entry_date"),
			Kind: settlementv1.ChargeKind(settlementv1.ChargeKind_value["CHARGE_KIND_"+f.Value("kind")]),
		}})
		return "/" + member + "/charges", err
	})
}
