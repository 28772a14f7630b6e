package gatetest

import (
	"context"
	"slices"
	"strings"
	"time"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
)

// Names of the invented season that tests ask for.
const (
	BatchID    = "ba7c0000-0000-4000-8000-000000000001"
	ReleasedID = "ba7c0000-0000-4000-8000-000000000002"
	PaymentID  = "9a1d0000-0000-4000-8000-000000000001"
	AccountID  = "acc00000-0000-4000-8000-000000000001"
	OrderID    = "1e000000-0000-4000-8000-000000000003"
	LienID     = "1e000000-0000-4000-8000-000000000001"
)

// transfers of the pack lot: two barrels into a tank with a heel in it, into jars, away.
func transfers() []*inventoryv1.Transfer {
	move := func(from, to, value string) *inventoryv1.Transfer {
		return &inventoryv1.Transfer{From: from, To: to, Mass: lb(value), Actor: "users/warehouse1", Time: at(20 * time.Hour)}
	}
	return []*inventoryv1.Transfer{
		move("stock/"+StockID, "charges/"+ChargeID, "640.0"), move(secondBox, "charges/"+ChargeID, "637.5"), move(secondBox, "losses/DRAIN", "6.0"),
		move("charges/"+EmptyID, "charges/"+ChargeID, "210.5"), move("charges/"+ChargeID, "losses/FILTER", "12.0"), move("charges/"+ChargeID, "packLots/"+LotID, "1271.5"),
		move("packLots/"+LotID, "shipments/5a100000-0000-4000-8000-000000000014", "900.0"), move("shipments/5a100000-0000-4000-8000-000000000014", "returns/"+ReturnID, "140.0"),
	}
}

func (h *House) ListStandingSplits(ctx context.Context, r *intakev1.ListStandingSplitsRequest) (*intakev1.ListStandingSplitsResponse, error) {
	answer := &intakev1.ListStandingSplitsResponse{}
	if r.GetMember() == Juniper {
		answer.StandingSplits = []*intakev1.StandingSplit{{
			Name: Juniper + "/standingSplits/1", Member: Juniper, EffectiveDate: "2026-07-01", Owners: owners(), Note: "signed by both on 12 June", Setter: "users/office1", SetTime: at(2000 * time.Hour),
		}}
	}
	return answer, h.note(ctx, r)
}

func owners() []*intakev1.OwnerShare {
	return []*intakev1.OwnerShare{
		{Member: Juniper, MemberDisplayName: "Juniper Ridge Bees", SharePercent: "66.6667"}, {Member: "members/M-0031", MemberDisplayName: "Larkmead Honey Yard", SharePercent: "33.3333"},
	}
}

func (h *House) SetStandingSplit(ctx context.Context, r *intakev1.SetStandingSplitRequest) (*intakev1.StandingSplit, error) {
	return &intakev1.StandingSplit{Name: r.GetMember() + "/standingSplits/2", Member: r.GetMember()}, h.note(ctx, r)
}

func encumbrances() []*settlementv1.Encumbrance {
	return []*settlementv1.Encumbrance{
		{
			Name: "encumbrances/" + LienID, Member: Juniper, Kind: settlementv1.EncumbranceKind_ENCUMBRANCE_KIND_LIEN, Creditor: "Valley Growers Credit", Percent: "100.0", Limit: usd("12000.00"),
			Document: "Notice of 2026-04-02", ReceiveDate: "2026-04-03", ExpireDate: "2027-04-02", Unresolved: true, Registrar: "users/office1", RegisterTime: at(3000 * time.Hour), Taken: usd("0.00"),
			CropYear: 2026,
		},
		{
			Name: "encumbrances/1e000000-0000-4000-8000-000000000002", Member: Sedge, Kind: settlementv1.EncumbranceKind_ENCUMBRANCE_KIND_ASSIGNMENT, Creditor: "Larkmead Honey Yard", Percent: "10.0",
			Document: "Order of 2026-05-11", ReceiveDate: "2026-05-11", Registrar: "users/office1", RegisterTime: at(2500 * time.Hour), Taken: usd("83.81"), Ender: "users/treasurer1", EndDocument: "Release of 2026-09-01",
		},
		{
			Name: "encumbrances/" + OrderID, Member: Juniper, Kind: settlementv1.EncumbranceKind_ENCUMBRANCE_KIND_ASSIGNMENT, Creditor: "Thistle Feed Mill", Percent: "5.0",
			Document: "Order of 2026-06-01", ReceiveDate: "2026-06-01", Registrar: "users/office1", RegisterTime: at(2400 * time.Hour), Taken: usd("0.00"),
			Releases: []*settlementv1.EncumbranceRelease{{
				Party: settlementv1.ReleaseParty_RELEASE_PARTY_CREDITOR, Signer: "P. Vale", SignDate: "2026-09-10", Document: "Release, file 12", Recorder: "users/office1", RecordTime: at(24 * time.Hour),
			}},
			ReleasesMissing: []settlementv1.ReleaseParty{settlementv1.ReleaseParty_RELEASE_PARTY_MEMBER},
		},
	}
}

// ListEncumbrances and its neighbours answer for the office's and the treasurer's money.
func (h *House) ListEncumbrances(ctx context.Context, r *settlementv1.ListEncumbrancesRequest) (*settlementv1.ListEncumbrancesResponse, error) {
	return &settlementv1.ListEncumbrancesResponse{Encumbrances: encumbrances()}, h.note(ctx, r)
}

func (h *House) RegisterEncumbrance(ctx context.Context, r *settlementv1.RegisterEncumbranceRequest) (*settlementv1.Encumbrance, error) {
	return encumbrances()[0], h.note(ctx, r)
}

func (h *House) RecordEncumbranceRelease(ctx context.Context, r *settlementv1.RecordEncumbranceReleaseRequest) (*settlementv1.Encumbrance, error) {
	return encumbrances()[1], h.note(ctx, r)
}

func (h *House) EndEncumbrance(ctx context.Context, r *settlementv1.EndEncumbranceRequest) (*settlementv1.Encumbrance, error) {
	return encumbrances()[1], h.note(ctx, r)
}

func payeeAccounts() []*settlementv1.PayeeAccount {
	return []*settlementv1.PayeeAccount{
		{Name: "payeeAccounts/" + AccountID, Payee: Sedge, Holder: "Sedge Hollow Apiary", RoutingNumber: "000000000", AccountNumber: "…4417", Enterer: "users/office1", EnterTime: at(30 * time.Hour)},
		{
			Name: "payeeAccounts/acc00000-0000-4000-8000-000000000002", Payee: Juniper, Holder: "Juniper Ridge Bees", Iban: "…9012", Enterer: "users/office1", EnterTime: at(3000 * time.Hour),
			Verifier: "users/treasurer1", Verification: "called the number on the agreement", VerifyTime: at(2990 * time.Hour), UsableFrom: "2026-05-23",
		},
	}
}

func (h *House) ListPayeeAccounts(ctx context.Context, r *settlementv1.ListPayeeAccountsRequest) (*settlementv1.ListPayeeAccountsResponse, error) {
	return &settlementv1.ListPayeeAccountsResponse{PayeeAccounts: payeeAccounts()}, h.note(ctx, r)
}

func (h *House) EnterPayeeAccount(ctx context.Context, r *settlementv1.EnterPayeeAccountRequest) (*settlementv1.PayeeAccount, error) {
	return payeeAccounts()[0], h.note(ctx, r)
}

func (h *House) VerifyPayeeAccount(ctx context.Context, r *settlementv1.VerifyPayeeAccountRequest) (*settlementv1.PayeeAccount, error) {
	return payeeAccounts()[1], h.note(ctx, r)
}

func batches() []*settlementv1.PaymentBatch {
	batch := func(id, number string, state settlementv1.PaymentState, payment string) *settlementv1.PaymentBatch {
		return &settlementv1.PaymentBatch{
			Name: "paymentBatches/" + id, Number: number, State: state, PayDate: "2026-09-18", Total: usd("754.29"), Fingerprint: Fingerprint, Preparer: "users/office1", PrepareTime: at(2 * time.Hour),
			Payments: []*settlementv1.Payment{
				{Name: payment, Member: Sedge, Payee: "Sedge Hollow Apiary", AccountEnding: "4417", Amount: usd("754.29"), Explanation: "$838.10 owed, 10.0 % of it to Larkmead Honey Yard"},
			},
			Blocked:        []*settlementv1.BlockedPayment{{Member: Juniper, Amount: usd("2348.18"), Reason: "waiting: the notice of Valley Growers Credit is unresolved"}},
			LoanDeductions: []*settlementv1.LoanDeduction{{Member: Juniper, Loan: "loans/" + LoanID, Interest: usd("3.81"), Principal: usd("80.00"), Explanation: "10.0 % of $838.10 goes to loan L-2026-001"}},
		}
	}
	released := batch(ReleasedID, "P-2026-001", settlementv1.PaymentState_PAYMENT_STATE_RELEASED, "payments/"+PaymentID)
	released.Releaser, released.ReleaseTime = "users/treasurer1", at(time.Hour)
	return []*settlementv1.PaymentBatch{batch(BatchID, "P-2026-002", settlementv1.PaymentState_PAYMENT_STATE_PREPARED, ""), released}
}

func (h *House) ListPaymentBatches(ctx context.Context, r *settlementv1.ListPaymentBatchesRequest) (*settlementv1.ListPaymentBatchesResponse, error) {
	return &settlementv1.ListPaymentBatchesResponse{PaymentBatches: batches()}, h.note(ctx, r)
}

func (h *House) GetPaymentBatch(ctx context.Context, r *settlementv1.GetPaymentBatchRequest) (*settlementv1.PaymentBatch, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	return find(ctx, batches(), r.GetName(), nil)
}

func (h *House) PreparePayments(ctx context.Context, r *settlementv1.PreparePaymentsRequest) (*settlementv1.PaymentBatch, error) {
	return batches()[0], h.note(ctx, r)
}

func (h *House) ReleasePayments(ctx context.Context, r *settlementv1.ReleasePaymentsRequest) (*settlementv1.PaymentBatch, error) {
	return batches()[1], h.note(ctx, r)
}

// ExportPaymentFile hands the file out once: the same request again gets the same, another is refused.
func (h *House) ExportPaymentFile(ctx context.Context, r *settlementv1.ExportPaymentFileRequest) (*settlementv1.PaymentFile, error) {
	before := h.Asked(r)
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	first := r.GetRequestId()
	if i := slices.IndexFunc(before, func(a Asked) bool { return proper(a).GetName() == r.GetName() }); i >= 0 {
		first = proper(before[i]).GetRequestId()
	}
	if first != r.GetRequestId() {
		return nil, apierr.State(r.GetName(), "EXPORTED", "the file of batch P-2026-001 was handed out already, to treasurer1")
	}
	return &settlementv1.PaymentFile{Content: []byte("101 payments of " + lastPart(r.GetName())), FileName: "P-2026-001.ach", Count: 1, Total: usd("754.29"), Sha256: strings.Repeat("0", 64)}, nil
}

func proper(a Asked) *settlementv1.ExportPaymentFileRequest {
	r, _ := a.Request.(*settlementv1.ExportPaymentFileRequest) // asked for by its type
	return r
}

func (h *House) ReturnPayment(ctx context.Context, r *settlementv1.ReturnPaymentRequest) (*settlementv1.Payment, error) {
	return &settlementv1.Payment{Name: "payments/2", Returns: r.GetName()}, h.note(ctx, r)
}

func (h *House) CompareRuns(ctx context.Context, r *settlementv1.CompareRunsRequest) (*settlementv1.RunComparison, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	return &settlementv1.RunComparison{
		Base: "runs/" + RunID, Name: r.GetName(),
		Changes: []*settlementv1.RunChange{
			{Subject: "barrels/" + StockID, Title: "barrel FC-0117 of M-0012, ticket FC-2026-000001", Ticket: "tickets/" + CloseTicketID, Cause: "it is any source, white, grade A (+$0.05 per lb) and was any source, white, grade C ($0.00 per lb): its certificate was replaced, or the differential was", Difference: usd("88.94")},
			{Subject: "poolEntries/90010000-0000-4000-8000-000000000007", Title: "Freight (Invoice 2027-114)", Cause: "entered", Difference: usd("-412.40")},
			{Subject: "base price", Title: "base price", Cause: "$1.41233 per lb before, $1.41120 per lb now: all honey of the pool is worth that much more or less"},
		},
		Members: []*settlementv1.RunMemberChange{{Member: Sedge, Before: usd("913.78"), After: usd("913.05")}, {Member: Juniper, Before: usd("2712.60"), After: usd("2799.37")}},
	}, nil
}

func (h *House) ListRunMembers(ctx context.Context, r *settlementv1.ListRunMembersRequest) (*settlementv1.ListRunMembersResponse, error) {
	return &settlementv1.ListRunMembersResponse{RunMembers: []*settlementv1.RunMember{
		{Member: Sedge, Barrels: 1, Payable: lb("647.0"), Value: usd("913.78"), CreditedBefore: usd("854.04"), Due: usd("59.74"), Receivable: usd("0.00")},
		{Member: Juniper, Barrels: 3, Payable: lb("1920.8"), Value: usd("2152.48"), CreditedBefore: usd("2395.69"), Due: usd("0.00"), Receivable: usd("243.21")},
	}}, h.note(ctx, r)
}

func (h *House) VerifyRun(ctx context.Context, r *settlementv1.VerifyRunRequest) (*settlementv1.VerifyRunResponse, error) {
	return &settlementv1.VerifyRunResponse{Identical: true, Fingerprint: Fingerprint, Finding: "569 barrels and 2 entries give the same outcome"}, h.note(ctx, r)
}

// GetRunSensitivity has a variant that could not be closed.
func (h *House) GetRunSensitivity(ctx context.Context, r *settlementv1.GetRunSensitivityRequest) (*settlementv1.RunSensitivity, error) {
	return &settlementv1.RunSensitivity{Name: r.GetName(), Unsold: usd("12400.50"), Variants: []*settlementv1.RunVariant{
		{Description: "expenses $0.01 more for each lb", Shift: usd("-3641.00"), Refused: "AMBER, grade B would be priced at -0.00767"},
		{
			Description: "unsold honey worth 5 % more", Shift: usd("620.03"), BasePrice: perLB("1.41403"), BasePriceDifference: perLB("0.00170"), Due: usd("113008.17"),
			DueDifference: usd("618.15"), Receivable: usd("241.33"),
		},
	}}, h.note(ctx, r)
}

func (h *House) GetTrialBalance(ctx context.Context, r *settlementv1.GetTrialBalanceRequest) (*settlementv1.TrialBalance, error) {
	return &settlementv1.TrialBalance{Debits: usd("3186.28"), Credits: usd("3186.28"), Entries: 17, Accounts: []*settlementv1.AccountBalance{
		{Account: "assets:honey:2026", Balance: usd("3186.28")}, {Account: "liabilities:members:M-0007", Balance: usd("-838.10")}, {Account: "liabilities:members:M-0012", Balance: usd("-2348.18")},
	}}, h.note(ctx, r)
}

// GetStatement answers for every member that may see it.
func (h *House) GetStatement(ctx context.Context, r *settlementv1.GetStatementRequest) (*settlementv1.Statement, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	i := slices.IndexFunc(memberTotals(), func(t *settlementv1.MemberTotal) bool { return t.GetMember() == r.GetMember() })
	if i < 0 || !access.SeesMember(ctx, r.GetMember()) {
		return nil, apierr.NotFound(r.GetMember())
	}
	total := memberTotals()[i]
	s := &settlementv1.Statement{
		Member: r.GetMember(), DisplayName: total.GetDisplayName(), CropYear: r.GetCropYear(), StatementDate: "2026-09-14", Total: total, Paid: usd("0.00"), Balance: total.GetNetAmount(),
		Headline: "We owe you " + total.GetNetAmount().GetAmount() + " dollars for deliveries up to 14 Sep 2026.", VerificationCode: "9f3c41d07be2a655", Notes: []string{"You can question this statement until 14 Oct 2026."},
	}
	for _, p := range payouts() {
		if p.GetMember() == r.GetMember() {
			s.Payouts = append(s.Payouts, p)
		}
	}
	fillStatement(s)
	return s, nil
}

// EstimatePayout pays the barrel of the season as if it had been dry, and has no price for buckwheat.
func (h *House) EstimatePayout(ctx context.Context, r *settlementv1.EstimatePayoutRequest) (*settlementv1.Payout, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	if r.GetVariety() == "buckwheat" {
		return nil, apierr.State("schedules/"+ScheduleID, "UNPRICED", "no adopted schedule has a price for buckwheat, dark amber, grade C")
	}
	dry := lines()
	dry[0].Quantity, dry[0].Amount = lb("640.0"), usd("704.00")
	dry[0].Explanation.Calculation = "640.0 lb × $1.10 = $704.00"
	return &settlementv1.Payout{
		Kind: settlementv1.PayoutKind_PAYOUT_KIND_ADVANCE, DeliveryDate: r.GetDeliveryDate(), CropYear: r.GetCropYear(), Net: r.GetNet(), Payable: r.GetNet(), Lines: dry,
		GrossAmount: usd("704.00"), NetAmount: usd("688.20"), Headline: "The full weight would be paid.",
	}, nil
}
