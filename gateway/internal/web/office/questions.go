package office

import (
	"strconv"

	"barrelhead.example/gateway/internal/web/site"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// The RPCs behind the pages of members' questions.
const (
	openDispute   = settlementv1.MemberAccountService_OpenDispute_FullMethodName
	answerDispute = settlementv1.MemberAccountService_AnswerDispute_FullMethodName
	getDispute    = settlementv1.MemberAccountService_GetDispute_FullMethodName
	listDisputes  = settlementv1.MemberAccountService_ListDisputes_FullMethodName
)

var disputeOutcomes = site.NewOptions("EXPLAINED", "the amount stands", "CORRECTED", "it is corrected", "PASSED_ON", "passed on")

// accountPages are what a member and the office say to each other beside the payouts.
func (s room) accountPages() map[string]site.Page {
	return map[string]site.Page{
		"/payouts/{id}/ask":         {Needs: openDispute, Show: s.ask, Form: true},
		"/questions":                {Needs: listDisputes, Show: s.questions},
		"/questions/{id}":           {Needs: getDispute, Show: s.question},
		"/questions/{id}/answer":    {Needs: answerDispute, Show: s.answerQuestion, Form: true},
		"/members/{number}/charges": {Needs: listCharges, Show: s.charges},
		"/members/{number}/charge":  {Needs: chargeMember, Show: s.newCharge, Form: true},
		"/members/{number}/loans":   {Needs: listLoans, Show: s.memberLoans},
		"/members/{number}/loan":    {Needs: proposeLoan, Show: s.newLoan, Form: true},
		"/loans":                    {Needs: listLoans, Show: s.loans},
		"/loans/{id}":               {Needs: getLoan, Show: s.loan},
		"/loans/{id}/approve":       {Needs: approveLoan, Show: s.approveLoan, Form: true},
		"/loans/{id}/pay":           {Needs: payLoan, Show: s.payLoan, Form: true},
	}
}

// ask takes a question about a payout, or about one line of it.
func (s room) ask(v *site.Visit) (site.View, error) {
	p, err := s.readPayout(v)
	if err != nil {
		return site.View{}, err
	}
	f := v.Form()
	line, _ := strconv.ParseInt(f.Value("line"), 10, 32) // none asks about all of it
	var about *settlementv1.PayoutLine
	for _, l := range p.GetLines() {
		if int64(l.GetLine()) == line {
			about = l
		}
	}
	return s.PlainTask(v, f, "ask", "Ask about barrel "+p.GetDrumTag(), map[string]any{"Payout": p, "About": about}, func() (string, error) {
		made, err := s.Accounts.OpenDispute(v.Ctx, &settlementv1.OpenDisputeRequest{RequestId: f.RequestID, Payout: p.GetName(), Line: about.GetLine(), Question: f.Value("question")})
		return "/questions/" + site.IDOf(made.GetName()), err
	})
}

func (s room) questions(v *site.Visit) (site.View, error) {
	query := v.URL.Query()
	req := &settlementv1.ListDisputesRequest{PageSize: 50, PageToken: query.Get("page"), Member: site.MemberName(query.Get("member")), OpenOnly: query.Get("all") == "" && !v.OnlyMember()}
	if v.OnlyMember() {
		req.Member = v.Who.Member
	}
	found, err := s.Accounts.ListDisputes(v.Ctx, req)
	if err != nil {
		return site.View{}, err
	}
	open, overdue := 0, 0
	for _, d := range found.GetDisputes() {
		if d.GetAnswerer() == "" {
			open++
		}
		if d.GetOverdue() {
			overdue++
		}
	}
	return site.View{Page: "questions", Title: "Questions", Data: map[string]any{
		"Questions": found.GetDisputes(), "Open": open, "Overdue": overdue, "Own": v.OnlyMember(), "All": query.Get("all") != "", "Next": site.NextPage(v, found.GetNextPageToken()),
	}}, nil
}

func (s room) readQuestion(v *site.Visit) (*settlementv1.Dispute, error) {
	return s.Accounts.GetDispute(v.Ctx, &settlementv1.GetDisputeRequest{Name: "disputes/" + v.PathValue("id")})
}

func (s room) question(v *site.Visit) (site.View, error) {
	d, err := s.readQuestion(v)
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "question", Title: "Question " + d.GetNumber(), Data: map[string]any{
		"Question": d, "Own": v.OnlyMember(), "MayAnswer": d.GetAnswerer() == "" && v.MayCall(answerDispute), "MayPayout": v.MayCall(getPayout),
	}}, nil
}

func (s room) answerQuestion(v *site.Visit) (site.View, error) {
	d, err := s.readQuestion(v)
	if err != nil {
		return site.View{}, err
	}
	f := v.Form()
	return s.PlainTask(v, f, "answerquestion", "Answer "+d.GetNumber(), map[string]any{"Question": d, "Outcomes": disputeOutcomes}, func() (string, error) {
		_, err := s.Accounts.AnswerDispute(v.Ctx, &settlementv1.AnswerDisputeRequest{
			RequestId: f.RequestID, Name: d.GetName(), Answer: f.Value("answer"), Outcome: settlementv1.DisputeOutcome(settlementv1.DisputeOutcome_value["DISPUTE_OUTCOME_"+f.Value("outcome")]),
		})
		return "/questions/" + site.IDOf(d.GetName()), err
	})
}
