package office

import (
	"net/url"

	"barrelhead.example/gateway/internal/web/site"
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
func (s room) moneyPages() map[string]site.Page {
	return map[string]site.Page{
		"/encumbrances":          {Needs: listEncumbrances, Show: s.encumbrances},
		"/encumbrances/new":      {Needs: encumber, Show: s.newEncumbrance, Form: true},
		"/encumbrances/{id}/end": {Needs: endEncumbrance, Show: s.endEncumbrance, Form: true},

		"/encumbrances/{id}/release": {Needs: recordRelease, Show: s.newRelease, Form: true},
		"/accounts":                  {Needs: listAccounts, Show: s.payeeAccounts},
		"/accounts/new":              {Needs: enterAccount, Show: s.newAccount, Form: true},
		"/accounts/{id}/verify":      {Needs: verifyAccount, Show: s.verifyAccount, Form: true},
		"/payments":                  {Needs: listBatches, Show: s.batches},
		"/payments/new":              {Needs: preparePayments, Show: s.newBatch, Form: true},
		"/payments/{id}":             {Needs: getBatch, Show: s.batch, Form: true},
		"/payments/{id}/return":      {Needs: returnPayment, Show: s.returnPayment, Form: true},
		"/runs/{id}/compare":         {Needs: compareRuns, Show: s.compareRuns},
		"/runs/{id}/members":         {Needs: runMembers, Show: s.runMembers},
		"/runs/{id}/verify":          {Needs: verifyRun, Show: s.verifyRun},
		"/runs/{id}/sensitivity":     {Needs: runSensitivity, Show: s.runSensitivity},
		"/books":                     {Needs: trialBalance, Show: s.books},

		"/runs/{id}/fairness":      {Needs: compareMembers, Show: s.fairness},
		"/members/{number}/equity": {Needs: listEquity, Show: s.equity},
		"/equity/redeem":           {Needs: redeemEquity, Show: s.redeem, Form: true},
	}
}

func (s room) encumbrances(v *site.Visit) (site.View, error) {
	query := v.URL.Query()
	found, err := s.Settlement.ListEncumbrances(v.Ctx, &settlementv1.ListEncumbrancesRequest{PageSize: 100, PageToken: query.Get("page"), Member: site.MemberName(query.Get("member"))})
	if err != nil {
		return site.View{}, err
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
	return site.View{Page: "encumbrances", Title: "Liens and assignments", Data: map[string]any{
		"Encumbrances": found.GetEncumbrances(), "Unresolved": unresolved, "Standing": standing, "Next": site.NextPage(v, found.GetNextPageToken()),
		"MayAdd": v.MayCall(encumber), "MayEnd": v.MayCall(endEncumbrance), "MayRelease": v.MayCall(recordRelease),
	}}, nil
}

var encumbranceKinds = site.NewOptions("LIEN", "lender's lien", "ASSIGNMENT", "member's own order", "LEVY", "levy of a tax office or court", "WITHHOLDING", "withholding by law", "JOINT_PAYEE", "paid jointly with a lender", "HEIR", "heir of an estate")

func (s room) newEncumbrance(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.PlainTask(v, f, "newencumbrance", "Register a notice", map[string]any{"Kinds": encumbranceKinds}, func() (string, error) {
		_, err := s.Settlement.RegisterEncumbrance(v.Ctx, &settlementv1.RegisterEncumbranceRequest{RequestId: f.RequestID, Encumbrance: &settlementv1.Encumbrance{
			Member: site.MemberName(f.Value("member")), Kind: settlementv1.EncumbranceKind(settlementv1.EncumbranceKind_value["ENCUMBRANCE_KIND_"+f.Value("kind")]),
			Creditor: f.Value("creditor"), Percent: site.Number(f.Value("percent")), Limit: s.TypedMoney(f.Value("limit")), Document: f.Value("document"),
			ReceiveDate: f.Value("receive_date"), ExpireDate: f.Value("expire_date"), Unresolved: f.Value("unresolved") != "",
			CropYear: yearOrNone(f.Value("crop_year")),
		}})
		return "/encumbrances", err
	})
}

// yearOrNone reads a year that may be left out. What is none is refused and never taken for all years.
func yearOrNone(typed string) int32 {
	if year := site.Few(typed); year != 0 || typed == "" {
		return year
	}
	return -1
}

var releaseParties = site.NewOptions("CREDITOR", "who is paid by it", "MEMBER", "the member")

// newRelease records one party's word that a right ends: who signed, when, and by which paper.
func (s room) newRelease(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.PlainTask(v, f, "newrelease", "Record a release", map[string]any{"Parties": releaseParties}, func() (string, error) {
		_, err := s.Settlement.RecordEncumbranceRelease(v.Ctx, &settlementv1.RecordEncumbranceReleaseRequest{
			RequestId: f.RequestID, Name: "encumbrances/" + v.PathValue("id"), Party: settlementv1.ReleaseParty(settlementv1.ReleaseParty_value["RELEASE_PARTY_"+f.Value("party")]),
			Signer: f.Value("signer"), SignDate: f.Value("sign_date"), Document: f.Value("document"),
		})
		return "/encumbrances", err
	})
}

func (s room) endEncumbrance(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.PlainTask(v, f, "endencumbrance", "End a notice", map[string]any{}, func() (string, error) {
		_, err := s.Settlement.EndEncumbrance(v.Ctx, &settlementv1.EndEncumbranceRequest{
			RequestId: f.RequestID, Name: "encumbrances/" + v.PathValue("id"), EndDocument: f.Value("end_document"),
		})
		return "/encumbrances", err
	})
}

func (s room) payeeAccounts(v *site.Visit) (site.View, error) {
	query := v.URL.Query()
	found, err := s.Settlement.ListPayeeAccounts(v.Ctx, &settlementv1.ListPayeeAccountsRequest{PageSize: 100, PageToken: query.Get("page"), Payee: site.MemberName(query.Get("member"))})
	if err != nil {
		return site.View{}, err
	}
	waiting := 0
	for _, a := range found.GetPayeeAccounts() {
		if a.GetVerifier() == "" {
			waiting++
		}
	}
	return site.View{Page: "accounts", Title: "Bank accounts", Data: map[string]any{
		"Accounts": found.GetPayeeAccounts(), "Waiting": waiting, "Next": site.NextPage(v, found.GetNextPageToken()),
		"MayAdd": v.MayCall(enterAccount), "MayVerify": v.MayCall(verifyAccount),
	}}, nil
}

// newAccount enters where money is to go. The number is never shown again but for its end.
func (s room) newAccount(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.PlainTask(v, f, "newaccount", "Enter a bank account", map[string]any{}, func() (string, error) {
		payee := site.MemberName(f.Value("payee"))
		if lender := f.Value("lender"); lender != "" {
			payee = lender
		}
		_, err := s.Settlement.EnterPayeeAccount(v.Ctx, &settlementv1.EnterPayeeAccountRequest{RequestId: f.RequestID, PayeeAccount: &settlementv1.PayeeAccount{
			Payee: payee, Holder: f.Value("holder"), RoutingNumber: f.Value("routing_number"), AccountNumber: site.Upper(f.Value("account_number")), Savings: f.Value("savings") != "", Iban: site.Upper(f.Value("iban")),
		}})
		return "/accounts", err
	})
}

func (s room) verifyAccount(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.PlainTask(v, f, "verifyaccount", "Verify a bank account", map[string]any{"Holder": v.URL.Query().Get("holder")}, func() (string, error) {
		_, err := s.Settlement.VerifyPayeeAccount(v.Ctx, &settlementv1.VerifyPayeeAccountRequest{
			RequestId: f.RequestID, Name: "payeeAccounts/" + v.PathValue("id"), Verification: f.Value("verification"),
		})
		return "/accounts", err
	})
}

func (s room) batches(v *site.Visit) (site.View, error) {
	found, err := s.Settlement.ListPaymentBatches(v.Ctx, &settlementv1.ListPaymentBatchesRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "batches", Title: "Payments", Data: map[string]any{
		"Batches": found.GetPaymentBatches(), "Next": site.NextPage(v, found.GetNextPageToken()), "MayPrepare": v.MayCall(preparePayments),
	}}, nil
}

func (s room) newBatch(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.PlainTask(v, f, "newbatch", "Prepare payments", map[string]any{}, func() (string, error) {
		made, err := s.Settlement.PreparePayments(v.Ctx, &settlementv1.PreparePaymentsRequest{
			RequestId: f.RequestID, PayDate: f.Value("pay_date"), Minimum: s.TypedMoney(f.Value("minimum")),
		})
		return "/payments/" + site.IDOf(made.GetName()), err
	})
}

// batch is one list of payments. It is released by the fingerprint that was shown; its file is handed out once.
func (s room) batch(v *site.Visit) (site.View, error) {
	f := v.Form()
	name := "paymentBatches/" + v.PathValue("id")
	if v.Posted {
		answer, err := s.sendMoney(v, f, name)
		if err == nil {
			return answer, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	b, err := s.Settlement.GetPaymentBatch(v.Ctx, &settlementv1.GetPaymentBatchRequest{Name: name})
	if err != nil {
		return site.View{}, err
	}
	unpaid, err := s.unpaid(b)
	if err != nil {
		return site.View{}, err
	}
	pays := len(b.GetPayments()) > 0
	prepared, released := b.GetState() == settlementv1.PaymentState_PAYMENT_STATE_PREPARED, b.GetState() == settlementv1.PaymentState_PAYMENT_STATE_RELEASED
	return site.View{Page: "batch", Title: "Payments " + b.GetNumber(), Data: map[string]any{
		"Form": f, "Batch": b, "Prepared": prepared, "Unpaid": unpaid, "MayExport": released && pays && v.MayCall(exportFile),
		"MayRelease": prepared && (pays || len(b.GetLoanDeductions()) > 0) && v.MayCall(releasePayments),
		"MayReturn":  !prepared && v.MayCall(returnPayment), "MayMember": v.MayCall(getTotal),
	}}, nil
}

// unpaid is what the balances a batch does not pay come to.
func (s room) unpaid(b *settlementv1.PaymentBatch) (*typev1.Money, error) {
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

func (s room) sendMoney(v *site.Visit, f *site.Form, name string) (site.View, error) {
	if f.Value("do") == "release" {
		_, err := s.Settlement.ReleasePayments(v.Ctx, &settlementv1.ReleasePaymentsRequest{RequestId: f.RequestID, Name: name, Fingerprint: f.Value("fingerprint")})
		return site.View{GoTo: v.URL.Path}, err
	}
	// A second press of the same button carries the same request id and gets the same file; another visit is refused.
	made, err := s.Settlement.ExportPaymentFile(v.Ctx, &settlementv1.ExportPaymentFileRequest{
		RequestId: f.RequestID, Name: name, Format: settlementv1.PaymentFormat(settlementv1.PaymentFormat_value["PAYMENT_FORMAT_"+f.Value("do")]),
	})
	return site.View{File: &site.File{Name: made.GetFileName(), Kind: "application/octet-stream", Content: made.GetContent()}}, err
}

func (s room) returnPayment(v *site.Visit) (site.View, error) {
	f := v.Form()
	batch := f.Value("batch")
	return s.PlainTask(v, f, "returnpayment", "A payment came back", map[string]any{"Batch": batch}, func() (string, error) {
		_, err := s.Settlement.ReturnPayment(v.Ctx, &settlementv1.ReturnPaymentRequest{RequestId: f.RequestID, Name: "payments/" + v.PathValue("id"), Reason: f.Value("reason")})
		return "/payments/" + url.PathEscape(batch), err
	})
}
