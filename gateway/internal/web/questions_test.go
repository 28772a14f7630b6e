package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/apierr"
)

func dollars(amount string) *typev1.Money { return &typev1.Money{Amount: amount, CurrencyCode: "USD"} }

func TestAccounts_SendWhatWasTyped(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	sendAll(t, w, []sending{
		{"juniper", "/payouts/" + gatetest.PayoutID + "/ask?line=1", url.Values{"line": {"1"}, "question": {"My own meter said 18.4."}}, "/questions/" + gatetest.QuestionID, &settlementv1.OpenDisputeRequest{
			Payout: "payouts/" + gatetest.PayoutID, Line: 1, Question: "My own meter said 18.4.",
		}},
		{"office1", "/questions/" + gatetest.QuestionID + "/answer", url.Values{"outcome": {"PASSED_ON"}, "answer": {"The laboratory measures again by 20 September."}}, "/questions/" + gatetest.QuestionID, &settlementv1.AnswerDisputeRequest{
			Name: "disputes/" + gatetest.QuestionID, Outcome: settlementv1.DisputeOutcome_DISPUTE_OUTCOME_PASSED_ON, Answer: "The laboratory measures again by 20 September.",
		}},
		{"office1", "/members/M-0012/charge", url.Values{"does": {"OFF"}, "amount": {"$1,018.00"}, "kind": {"CONTAINER"}, "description": {"Wash of 12 drums"}, "authority": {"article 8"}, "entry_date": {"2026-09-10"}}, "/members/M-0012/charges", &settlementv1.ChargeMemberRequest{
			Charge: &settlementv1.MemberCharge{Member: gatetest.Juniper, Kind: settlementv1.ChargeKind_CHARGE_KIND_CONTAINER, Amount: dollars("-1018.00"), Description: "Wash of 12 drums", Authority: "article 8", EntryDate: "2026-09-10"},
		}},
		{"office1", "/members/M-0012/loan", url.Values{"purpose": {"CASH"}, "principal": {"500"}, "annual_rate_percent": {"6,5"}, "day_count": {"ACTUAL_360"}, "deduction_percent": {"50"}, "authority": {"agreement of 12 September"}}, "/loans/" + gatetest.ProposedID, &settlementv1.ProposeLoanRequest{
			Loan: &settlementv1.Loan{Member: gatetest.Juniper, Purpose: settlementv1.LoanPurpose_LOAN_PURPOSE_CASH, Principal: dollars("500"), AnnualRatePercent: "6.5", DayCount: settlementv1.DayCount_DAY_COUNT_ACTUAL_360, DeductionPercent: "50", Authority: "agreement of 12 September"},
		}},
		{"board1", "/loans/" + gatetest.ProposedID + "/approve", url.Values{"resolution": {"Board 2026-09-12 no. 3"}}, "/loans/" + gatetest.ProposedID, &settlementv1.ApproveLoanRequest{Name: "loans/" + gatetest.ProposedID, Resolution: "Board 2026-09-12 no. 3"}},
		{"office1", "/loans/" + gatetest.LoanID + "/pay", url.Values{"amount": {"100"}, "entry_date": {"2026-09-14"}, "document": {"Cheque 1042"}}, "/loans/" + gatetest.LoanID, &settlementv1.RecordLoanPaymentRequest{
			Name: "loans/" + gatetest.LoanID, Amount: dollars("100"), EntryDate: "2026-09-14", Document: "Cheque 1042",
		}},
		{"office1", "/dock-terms/tare", url.Values{"container": {"TOTE"}, "tare": {"131,5"}, "sample_size": {"30"}, "note": {"tare sheet 12"}}, "/dock-terms", &intakev1.SetClassTareRequest{
			Container: intakev1.Container_CONTAINER_TOTE, Tare: pounds("131.5"), SampleSize: 30, Note: "tare sheet 12",
		}},
		{"office1", "/dock-terms/deposit", url.Values{"container": {"PAIL"}, "amount": {"2.50"}, "effective_date": {"2026-10-01"}, "note": {"resolution 2026-14"}}, "/dock-terms", &intakev1.SetContainerDepositRequest{
			Container: intakev1.Container_CONTAINER_PAIL, Amount: dollars("2.50"), EffectiveDate: "2026-10-01", Note: "resolution 2026-14",
		}},
	})
}

func TestQuestions_AreTheMembersOwnAndKeepWhatWasTyped(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("juniper")
	_, body := open(t, client, w.URL+"/payouts/"+gatetest.PayoutID+"/lines/1")
	require.Contains(t, body, `href="/payouts/`+gatetest.PayoutID+`/ask?line=1"`)
	w.House.Refuse(&settlementv1.OpenDisputeRequest{}, apierr.Field("question", "is too short"))
	answer, body := send(t, client, w.URL+"/payouts/"+gatetest.PayoutID+"/ask?line=1", url.Values{"line": {"1"}, "question": {"eh"}})
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, ">eh</textarea>")
	require.Contains(t, body, `name="line" value="1"`)
	_, body = open(t, client, w.URL+"/questions")
	require.Contains(t, body, "answered: the amount stands")
	require.Equal(t, gatetest.Juniper, last(t, w, &settlementv1.ListDisputesRequest{}).GetMember())
	_, body = open(t, client, w.URL+"/questions/"+gatetest.AnsweredID)
	require.Contains(t, body, "Two cents a pound from zone B")
	require.NotContains(t, body, "office1", "staff are not named to members")
	_, body = open(t, w.Browser("office1"), w.URL+"/questions")
	require.Contains(t, body, "1 question waits for an answer")
	require.Contains(t, body, "overdue since 11 Sep 2026")
	require.NotContains(t, body, "D-2026-002")

	answer, _ = open(t, w.Browser("sedge"), w.URL+"/questions/"+gatetest.QuestionID)
	require.Equal(t, http.StatusNotFound, answer.StatusCode)
}

// Every file a page offers is there for whoever sees the page.
func TestDownloads_OfferedOnPagesAreThere(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	for login, pages := range map[string][]string{
		"juniper": {"/statements", "/me", "/tickets/" + gatetest.CloseTicketID}, "treasurer1": {"/books"}, "office1": {"/members/M-0012/statements"},
	} {
		client := w.Browser(login)
		for _, page := range pages {
			_, body := open(t, client, w.URL+page)
			files := regexp.MustCompile(`href="(/[^"]+\.(?:pdf|csv|txt))"`).FindAllStringSubmatch(body, -1)
			require.NotEmpty(t, files, page)
			for _, file := range files {
				answer, _ := open(t, client, w.URL+file[1])
				require.Equal(t, http.StatusOK, answer.StatusCode, "%s on %s", file[1], page)
			}
		}
	}
}

func TestContainers_ShowTheirDeposit(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	_, body := open(t, w.Browser("juniper"), w.URL+"/members/M-0012/containers")
	require.Contains(t, body, "14 containers")
	require.Contains(t, body, "Deposit: $280.00.")
	require.NotContains(t, body, "dock1")
}

func TestForm_NamesPeopleAndDrumsAsPeopleDo(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	w.House.Refuse(&intakev1.RecordContainerMoveRequest{}, apierr.Field("count", "members/M-0012 has 14 of these out since 2026-09-14T12:05:00Z"))
	_, body := send(t, w.Browser("office1"), w.URL+"/members/M-0012/containers/move", url.Values{"kind": {"BACK_EMPTY"}, "container": {"TOTE"}, "count": {"20"}})
	require.Contains(t, body, "M-0012 has 14 of these out since 14 Sep, 07:05.")
	require.NotContains(t, body, "embers/M-0012 has")
}
