package gatetest

import (
	"context"
	"time"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
)

// Names of the invented season that tests ask for.
const (
	QuestionID = "d15b0000-0000-4000-8000-000000000001"
	AnsweredID = "d15b0000-0000-4000-8000-000000000002"
	LoanID     = "10a40000-0000-4000-8000-000000000001"
	ProposedID = "10a40000-0000-4000-8000-000000000002"
)

func disputes() []*settlementv1.Dispute {
	asked := &settlementv1.Dispute{
		Name: "disputes/" + QuestionID, Number: "D-2026-001", Member: Juniper, Payout: "payouts/" + PayoutID, Line: 1, AskedAbout: lines()[0], PayoutHeadline: payouts()[0].GetHeadline(),
		Question: "My own meter said 18.4. Can it be measured again?", Asker: "users/juniper", AskTime: at(300 * time.Hour), DueDate: "2026-09-11", Overdue: true,
		Headline: "Question D-2026-001 about $698.83 waits for its answer.",
	}
	answered := &settlementv1.Dispute{
		Name: "disputes/" + AnsweredID, Number: "D-2026-002", Member: Juniper, Payout: "payouts/" + PayoutID, PayoutHeadline: payouts()[0].GetHeadline(), Question: "What is the hauling charge?",
		Asker: "users/juniper", AskTime: at(200 * time.Hour), DueDate: "2026-09-20", Answer: "Two cents a pound from zone B, by resolution 2026-11.", Outcome: settlementv1.DisputeOutcome_DISPUTE_OUTCOME_EXPLAINED,
		Answerer: "users/office1", AnswerTime: at(100 * time.Hour), Headline: "Question D-2026-002 was answered: the amount stands.",
	}
	return []*settlementv1.Dispute{asked, answered}
}

// OpenDispute and its neighbours answer for questions, loans and charges.
func (m MemberAccount) OpenDispute(ctx context.Context, r *settlementv1.OpenDisputeRequest) (*settlementv1.Dispute, error) {
	return disputes()[0], m.house.note(ctx, r)
}

func (m MemberAccount) AnswerDispute(ctx context.Context, r *settlementv1.AnswerDisputeRequest) (*settlementv1.Dispute, error) {
	return disputes()[1], m.house.note(ctx, r)
}

func (m MemberAccount) GetDispute(ctx context.Context, r *settlementv1.GetDisputeRequest) (*settlementv1.Dispute, error) {
	if err := m.house.note(ctx, r); err != nil {
		return nil, err
	}
	return find(ctx, disputes(), r.GetName(), (*settlementv1.Dispute).GetMember)
}

func (m MemberAccount) ListDisputes(ctx context.Context, r *settlementv1.ListDisputesRequest) (*settlementv1.ListDisputesResponse, error) {
	answer := &settlementv1.ListDisputesResponse{}
	for _, d := range disputes() {
		if access.SeesMember(ctx, d.GetMember()) && (!r.GetOpenOnly() || d.GetAnswerer() == "") {
			answer.Disputes = append(answer.Disputes, d)
		}
	}
	return answer, m.house.note(ctx, r)
}

func loans() []*settlementv1.Loan {
	lent := &settlementv1.Loan{
		Name: "loans/" + LoanID, Number: "L-2026-001", Member: Juniper, Purpose: settlementv1.LoanPurpose_LOAN_PURPOSE_SUPPLIES, Principal: usd("2400.00"), AnnualRatePercent: "6.00",
		DayCount: settlementv1.DayCount_DAY_COUNT_ACTUAL_365, DeductionPercent: "25", Authority: "Loan agreement of 3 March 2026", StartDate: "2026-03-03", Proposer: "users/office1", Approver: "users/board1",
		Resolution: "Board 2026-03-02 no. 1", State: settlementv1.LoanState_LOAN_STATE_OPEN, AsOfDate: "2026-09-14", PrincipalDue: usd("1800.00"), InterestDue: usd("12.72"), Payoff: usd("1812.72"),
		Headline: "$1,812.72 pays it off on 14 September 2026.", Calculation: "$1,800.00 × 6.00 % × 43 ÷ 365 = $12.72",
		Entries: []*settlementv1.LoanEntry{{EntryDate: "2026-03-03", Kind: settlementv1.LoanEntryKind_LOAN_ENTRY_KIND_LENT, Principal: usd("2400.00"), Interest: usd("0.00"), Document: "Board 2026-03-02 no. 1", Recorder: "users/board1", RecordTime: at(4000 * time.Hour)}},
	}
	proposed := &settlementv1.Loan{
		Name: "loans/" + ProposedID, Number: "L-2026-002", Member: Juniper, Purpose: settlementv1.LoanPurpose_LOAN_PURPOSE_CASH, Principal: usd("500.00"), AnnualRatePercent: "6.00", DayCount: settlementv1.DayCount_DAY_COUNT_ACTUAL_365,
		DeductionPercent: "50", Authority: "Loan agreement of 12 September 2026", Proposer: "users/office1", State: settlementv1.LoanState_LOAN_STATE_PROPOSED, AsOfDate: "2026-09-14", Payoff: usd("0.00"), Headline: "Nothing is lent before the board approves it.",
	}
	return []*settlementv1.Loan{lent, proposed}
}

func (m MemberAccount) ProposeLoan(ctx context.Context, r *settlementv1.ProposeLoanRequest) (*settlementv1.Loan, error) {
	return loans()[1], m.house.note(ctx, r)
}

func (m MemberAccount) ApproveLoan(ctx context.Context, r *settlementv1.ApproveLoanRequest) (*settlementv1.Loan, error) {
	return loans()[0], m.house.note(ctx, r)
}

func (m MemberAccount) RecordLoanPayment(ctx context.Context, r *settlementv1.RecordLoanPaymentRequest) (*settlementv1.Loan, error) {
	return loans()[0], m.house.note(ctx, r)
}

func (m MemberAccount) GetLoan(ctx context.Context, r *settlementv1.GetLoanRequest) (*settlementv1.Loan, error) {
	if err := m.house.note(ctx, r); err != nil {
		return nil, err
	}
	return find(ctx, loans(), r.GetName(), (*settlementv1.Loan).GetMember)
}

func (m MemberAccount) ListLoans(ctx context.Context, r *settlementv1.ListLoansRequest) (*settlementv1.ListLoansResponse, error) {
	if err := m.house.note(ctx, r); err != nil {
		return nil, err
	}
	if r.GetMember() != "" && (r.GetMember() != Juniper || !access.SeesMember(ctx, r.GetMember())) {
		return nil, apierr.NotFound(r.GetMember())
	}
	return &settlementv1.ListLoansResponse{Loans: loans()}, nil
}

func (m MemberAccount) ChargeMember(ctx context.Context, r *settlementv1.ChargeMemberRequest) (*settlementv1.MemberCharge, error) {
	return r.GetCharge(), m.house.note(ctx, r)
}

func (m MemberAccount) ListMemberCharges(ctx context.Context, r *settlementv1.ListMemberChargesRequest) (*settlementv1.ListMemberChargesResponse, error) {
	if err := m.house.note(ctx, r); err != nil {
		return nil, err
	}
	if r.GetMember() != Juniper || !access.SeesMember(ctx, r.GetMember()) {
		return nil, apierr.NotFound(r.GetMember())
	}
	return &settlementv1.ListMemberChargesResponse{Charges: []*settlementv1.MemberCharge{{
		Name: "memberCharges/1", Member: Juniper, Kind: settlementv1.ChargeKind_CHARGE_KIND_HAULING, Amount: usd("-38.51"), Description: "Hauling of ticket FC-2026-000698", Authority: "Resolution 2026-11",
		EntryDate: "2026-09-08", Calculation: "1,925.5 lb × $0.02 = $38.51", Recorder: "users/office1", RecordTime: at(140 * time.Hour),
	}}}, nil
}

// DockTerms stands for class tares and deposits.
type DockTerms struct {
	intakev1.UnimplementedDockTermsServiceServer
	house *House
}

// ListClassTares answers one that is about to lapse.
func (d DockTerms) ListClassTares(ctx context.Context, r *intakev1.ListClassTaresRequest) (*intakev1.ListClassTaresResponse, error) {
	return &intakev1.ListClassTaresResponse{ClassTares: []*intakev1.ClassTare{{
		Name: "classTares/1", Container: intakev1.Container_CONTAINER_STEEL_CLOSED_HEAD, Tare: lb("41.5"), SampleSize: 30, SampleDate: "2025-10-02", ReviewDate: "2026-10-02", Note: "tare sheet 12",
		Setter: "users/office1", SetTime: at(8000 * time.Hour), Warnings: []string{"to be weighed anew by 2 October 2026"},
	}}}, d.house.note(ctx, r)
}

// SetClassTare and its neighbours record what they are given.
func (d DockTerms) SetClassTare(ctx context.Context, r *intakev1.SetClassTareRequest) (*intakev1.ClassTare, error) {
	return &intakev1.ClassTare{Name: "classTares/2", Container: r.GetContainer(), Tare: r.GetTare()}, d.house.note(ctx, r)
}

// ListContainerDeposits answers one.
func (d DockTerms) ListContainerDeposits(ctx context.Context, r *intakev1.ListContainerDepositsRequest) (*intakev1.ListContainerDepositsResponse, error) {
	return &intakev1.ListContainerDepositsResponse{ContainerDeposits: []*intakev1.ContainerDeposit{{
		Name: "containerDeposits/1", Container: intakev1.Container_CONTAINER_STEEL_CLOSED_HEAD, Amount: usd("20.00"), EffectiveDate: "2026-03-01", Note: "resolution 2026-04", Setter: "users/office1", SetTime: at(4700 * time.Hour),
	}}}, d.house.note(ctx, r)
}

// SetContainerDeposit records what it is given.
func (d DockTerms) SetContainerDeposit(ctx context.Context, r *intakev1.SetContainerDepositRequest) (*intakev1.ContainerDeposit, error) {
	return &intakev1.ContainerDeposit{Name: "containerDeposits/2", Container: r.GetContainer(), Amount: r.GetAmount()}, d.house.note(ctx, r)
}
