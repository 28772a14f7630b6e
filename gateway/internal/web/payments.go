package web

import (
	"net/url"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/quantity"
)

// The RPCs behind the pages of the office's and the treasurer's money.
const (
	listEncumbrances = settlementv1.SettlementService_ListEncumbrances_FullMethodName
	encumber         = settlementv1.SettlementService_RegisterEncumbrance_FullMethodName
	recordRelease    = settlementv1.SettlementService_RecordEncumbranceRelease_FullMethodName
	endEncumbrance   = settlementv1.SettlementService_EndEncumbrance_FullMethodName
	listAccounts     = settlementv1.SettlementService_ListPayeeAccounts_FullMethodName
	enterAccount     = settlementv1.SettlementService_EnterPayeeAccount_FullMethodName
	verifyAccount    = settlementv1.SettlementService_VerifyPayeeAccount_FullMethodName
	listBatches      = settlementv1.SettlementService_ListPaymentBatches_FullMethodName
	getBatch         = settlementv1.SettlementService_GetPaymentBatch_FullMethodName
	preparePayments  = settlementv1.SettlementService_PreparePayments_FullMethodName
	releasePayments  = settlementv1.SettlementService_ReleasePayments_FullMethodName
	exportFile       = settlementv1.SettlementService_ExportPaymentFile_FullMethodName
	returnPayment    = settlementv1.SettlementService_ReturnPayment_FullMethodName
	compareRuns      = settlementv1.SettlementService_CompareRuns_FullMethodName
	runMembers       = settlementv1.SettlementService_ListRunMembers_FullMethodName
	verifyRun        = settlementv1.SettlementService_VerifyRun_FullMethodName
	runSensitivity   = settlementv1.SettlementService_GetRunSensitivity_FullMethodName
	trialBalance     = settlementv1.SettlementService_GetTrialBalance_FullMethodName
	exportJournal    = settlementv1.SettlementService_ExportJournal_FullMethodName
	exportTax        = settlementv1.MemberAccountService_ExportTaxRecords_FullMethodName
)

// moneyPages are where money is encumbered, checked and sent.
func (s *site) moneyPages() map[string]page {
	return map[string]page{
		"/encumbrances":          {needs: listEncumbrances, show: s.encumbrances},
		"/encumbrances/new":      {needs: encumber, show: s.newEncumbrance, form: true},
		"/encumbrances/{id}/end": {needs: endEncumbrance, show: s.endEncumbrance, form: true},

		"/encumbrances/{id}/release": {needs: recordRelease, show: s.newRelease, form: true},
		"/accounts":                  {needs: listAccounts, show: s.payeeAccounts},
		"/accounts/new":              {needs: enterAccount, show: s.newAccount, form: true},
		"/accounts/{id}/verify":      {needs: verifyAccount, show: s.verifyAccount, form: true},
		"/payments":                  {needs: listBatches, show: s.batches},
		"/payments/new":              {needs: preparePayments, show: s.newBatch, form: true},
		"/payments/{id}":             {needs: getBatch, show: s.batch, form: true},
		"/payments/{id}/return":      {needs: returnPayment, show: s.returnPayment, form: true},
		"/runs/{id}/compare":         {needs: compareRuns, show: s.compareRuns},
		"/runs/{id}/members":         {needs: runMembers, show: s.runMembers},
		"/runs/{id}/verify":          {needs: verifyRun, show: s.verifyRun},
		"/runs/{id}/sensitivity":     {needs: runSensitivity, show: s.runSensitivity},
		"/books":                     {needs: trialBalance, show: s.books},

		"/runs/{id}/fairness":      {needs: compareMembers, show: s.fairness},
		"/members/{number}/equity": {needs: listEquity, show: s.equity},
		"/equity/redeem":           {needs: redeemEquity, show: s.redeem, form: true},
	}
}

func (s *site) encumbrances(v *visit) (view, error) {
	query := v.URL.Query()
	found, err := s.settlement.ListEncumbrances(v.ctx, &settlementv1.ListEncumbrancesRequest{PageSize: 100, PageToken: query.Get("page"), Member: memberName(query.Get("member"))})
	if err != nil {
		return view{}, err
	}
	unresolved, standing := 0, 0
	for _, e := range found.GetEncumbrances() {
		if e.GetEnder() != "" {
			continue
		}
		if standing++; e.GetUnresolved() {
			unresolved++
		}
	}
	return view{page: "encumbrances", title: "Liens and assignments", data: map[string]any{
		"Encumbrances": found.GetEncumbrances(), "Unresolved": unresolved, "Standing": standing, "Next": nextPage(v, found.GetNextPageToken()),
		"MayAdd": v.mayCall(encumber), "MayEnd": v.mayCall(endEncumbrance), "MayRelease": v.mayCall(recordRelease),
	}}, nil
}

var encumbranceKinds = newOptions("LIEN", "lender's lien", "ASSIGNMENT", "member's own order", "LEVY", "levy of a tax office or court", "WITHHOLDING", "withholding by law", "JOINT_PAYEE", "paid jointly with a lender", "HEIR", "heir of an estate")

func (s *site) newEncumbrance(v *visit) (view, error) {
	f := v.form()
	return s.plainTask(v, f, "newencumbrance", "Register a notice", map[string]any{"Kinds": encumbranceKinds}, func() (string, error) {
		_, err := s.settlement.RegisterEncumbrance(v.ctx, &settlementv1.RegisterEncumbranceRequest{RequestId: f.RequestID, Encumbrance: &settlementv1.Encumbrance{
			Member: memberName(f.Value("member")), Kind: settlementv1.EncumbranceKind(settlementv1.EncumbranceKind_value["ENCUMBRANCE_KIND_"+f.Value("kind")]),
			Creditor: f.Value("creditor"), Percent: decimal(f.Value("percent")), Limit: s.typedMoney(f.Value("limit")), Document: f.Value("document"),
			ReceiveDate: f.Value("receive_date"), ExpireDate: f.Value("expire_date"), Unresolved: f.Value("unresolved") != "",
			CropYear: yearOrNone(f.Value("crop_year")),
		}})
		return "/encumbrances", err
	})
}

// yearOrNone reads a year that may be left out. What is none is refused and never taken for all years.
func yearOrNone(typed string) int32 {
	if year := few(typed); year != 0 || typed == "" {
		return year
	}
	return -1
}

var releaseParties = newOptions("CREDITOR", "who is paid by it", "MEMBER", "the member")

// newRelease records one party's word that a right ends: who signed, when, and by which paper.
func (s *site) newRelease(v *visit) (view, error) {
	f := v.form()
	return s.plainTask(v, f, "newrelease", "Record a release", map[string]any{"Parties": releaseParties}, func() (string, error) {
		_, err := s.settlement.RecordEncumbranceRelease(v.ctx, &settlementv1.RecordEncumbranceReleaseRequest{
			RequestId: f.RequestID, Name: "encumbrances/" + v.PathValue("id"), Party: settlementv1.ReleaseParty(settlementv1.ReleaseParty_value["RELEASE_PARTY_"+f.Value("party")]),
			Signer: f.Value("signer"), SignDate: f.Value("sign_date"), Document: f.Value("document"),
		})
		return "/encumbrances", err
	})
}

func (s *site) endEncumbrance(v *visit) (view, error) {
	f := v.form()
	return s.plainTask(v, f, "endencumbrance", "End a notice", map[string]any{}, func() (string, error) {
		_, err := s.settlement.EndEncumbrance(v.ctx, &settlementv1.EndEncumbranceRequest{
			RequestId: f.RequestID, Name: "encumbrances/" + v.PathValue("id"), EndDocument: f.Value("end_document"),
		})
		return "/encumbrances", err
	})
}

func (s *site) payeeAccounts(v *visit) (view, error) {
	query := v.URL.Query()
	found, err := s.settlement.ListPayeeAccounts(v.ctx, &settlementv1.ListPayeeAccountsRequest{PageSize: 100, PageToken: query.Get("page"), Payee: memberName(query.Get("member"))})
	if err != nil {
		return view{}, err
	}
	waiting := 0
	for _, a := range found.GetPayeeAccounts() {
		if a.GetVerifier() == "" {
			waiting++
		}
	}
	return view{page: "accounts", title: "Bank accounts", data: map[string]any{
		"Accounts": found.GetPayeeAccounts(), "Waiting": waiting, "Next": nextPage(v, found.GetNextPageToken()),
		"MayAdd": v.mayCall(enterAccount), "MayVerify": v.mayCall(verifyAccount),
	}}, nil
}

// newAccount enters where money is to go. The number is never shown again but for its end.
func (s *site) newAccount(v *visit) (view, error) {
	f := v.form()
	return s.plainTask(v, f, "newaccount", "Enter a bank account", map[string]any{}, func() (string, error) {
		payee := memberName(f.Value("payee"))
		if lender := f.Value("lender"); lender != "" {
			payee = lender
		}
		_, err := s.settlement.EnterPayeeAccount(v.ctx, &settlementv1.EnterPayeeAccountRequest{RequestId: f.RequestID, PayeeAccount: &settlementv1.PayeeAccount{
			Payee: payee, Holder: f.Value("holder"), RoutingNumber: f.Value("routing_number"), AccountNumber: upper(f.Value("account_number")), Savings: f.Value("savings") != "", Iban: upper(f.Value("iban")),
		}})
		return "/accounts", err
	})
}

func (s *site) verifyAccount(v *visit) (view, error) {
	f := v.form()
	return s.plainTask(v, f, "verifyaccount", "Verify a bank account", map[string]any{"Holder": v.URL.Query().Get("holder")}, func() (string, error) {
		_, err := s.settlement.VerifyPayeeAccount(v.ctx, &settlementv1.VerifyPayeeAccountRequest{
			RequestId: f.RequestID, Name: "payeeAccounts/" + v.PathValue("id"), Verification: f.Value("verification"),
		})
		return "/accounts", err
	})
}

func (s *site) batches(v *visit) (view, error) {
	found, err := s.settlement.ListPaymentBatches(v.ctx, &settlementv1.ListPaymentBatchesRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	return view{page: "batches", title: "Payments", data: map[string]any{
		"Batches": found.GetPaymentBatches(), "Next": nextPage(v, found.GetNextPageToken()), "MayPrepare": v.mayCall(preparePayments),
	}}, nil
}

func (s *site) newBatch(v *visit) (view, error) {
	f := v.form()
	return s.plainTask(v, f, "newbatch", "Prepare payments", map[string]any{}, func() (string, error) {
		made, err := s.settlement.PreparePayments(v.ctx, &settlementv1.PreparePaymentsRequest{
			RequestId: f.RequestID, PayDate: f.Value("pay_date"), Minimum: s.typedMoney(f.Value("minimum")),
		})
		return "/payments/" + idOf(made.GetName()), err
	})
}

// batch is one list of payments. It is released by the fingerprint that was shown; its file is handed out once.
func (s *site) batch(v *visit) (view, error) {
	f := v.form()
	name := "paymentBatches/" + v.PathValue("id")
	if v.posted {
		answer, err := s.sendMoney(v, f, name)
		if err == nil {
			return answer, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	b, err := s.settlement.GetPaymentBatch(v.ctx, &settlementv1.GetPaymentBatchRequest{Name: name})
	if err != nil {
		return view{}, err
	}
	unpaid, err := s.unpaid(b)
	if err != nil {
		return view{}, err
	}
	pays := len(b.GetPayments()) > 0
	prepared, released := b.GetState() == settlementv1.PaymentState_PAYMENT_STATE_PREPARED, b.GetState() == settlementv1.PaymentState_PAYMENT_STATE_RELEASED
	return view{page: "batch", title: "Payments " + b.GetNumber(), data: map[string]any{
		"Form": f, "Batch": b, "Prepared": prepared, "Unpaid": unpaid, "MayExport": released && pays && v.mayCall(exportFile),
		"MayRelease": prepared && (pays || len(b.GetLoanDeductions()) > 0) && v.mayCall(releasePayments),
		"MayReturn":  !prepared && v.mayCall(returnPayment), "MayMember": v.mayCall(getTotal),
	}}, nil
}

// unpaid is what the balances a batch does not pay come to.
func (s *site) unpaid(b *settlementv1.PaymentBatch) (*typev1.Money, error) {
	var sum quantity.Money
	for _, blocked := range b.GetBlocked() {
		amount, err := quantity.ParseMoney(blocked.GetAmount().GetAmount())
		if err != nil {
			return nil, err //nolint:wrapcheck // names the amount
		}
		sum += amount
	}
	return &typev1.Money{Amount: sum.String(), CurrencyCode: s.Cooperative.Currency}, nil
}

func (s *site) sendMoney(v *visit, f *form, name string) (view, error) {
	if f.Value("do") == "release" {
		_, err := s.settlement.ReleasePayments(v.ctx, &settlementv1.ReleasePaymentsRequest{RequestId: f.RequestID, Name: name, Fingerprint: f.Value("fingerprint")})
		return view{goTo: v.URL.Path}, err
	}
	// A second press of the same button carries the same request id and gets the same file; another visit is refused.
	made, err := s.settlement.ExportPaymentFile(v.ctx, &settlementv1.ExportPaymentFileRequest{
		RequestId: f.RequestID, Name: name, Format: settlementv1.PaymentFormat(settlementv1.PaymentFormat_value["PAYMENT_FORMAT_"+f.Value("do")]),
	})
	return view{file: &file{name: made.GetFileName(), kind: "application/octet-stream", content: made.GetContent()}}, err
}

func (s *site) returnPayment(v *visit) (view, error) {
	f := v.form()
	batch := f.Value("batch")
	return s.plainTask(v, f, "returnpayment", "A payment came back", map[string]any{"Batch": batch}, func() (string, error) {
		_, err := s.settlement.ReturnPayment(v.ctx, &settlementv1.ReturnPaymentRequest{RequestId: f.RequestID, Name: "payments/" + v.PathValue("id"), Reason: f.Value("reason")})
		return "/payments/" + url.PathEscape(batch), err
	})
}
