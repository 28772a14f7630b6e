package web

import (
	"strconv"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// The RPCs behind the pages of members' questions.
const (
	openDispute   = settlementv1.MemberAccountService_OpenDispute_FullMethodName
	answerDispute = settlementv1.MemberAccountService_AnswerDispute_FullMethodName
	getDispute    = settlementv1.MemberAccountService_GetDispute_FullMethodName
	listDisputes  = settlementv1.MemberAccountService_ListDisputes_FullMethodName
)

var disputeOutcomes = newOptions("EXPLAINED", "the amount stands", "CORRECTED", "it is corrected", "PASSED_ON", "passed on")

// accountPages are what a member and the office say to each other beside the payouts.
func (s *site) accountPages() map[string]page {
	return map[string]page{
		"/payouts/{id}/ask":         {needs: openDispute, show: s.ask, form: true},
		"/questions":                {needs: listDisputes, show: s.questions},
		"/questions/{id}":           {needs: getDispute, show: s.question},
		"/questions/{id}/answer":    {needs: answerDispute, show: s.answerQuestion, form: true},
		"/members/{number}/charges": {needs: listCharges, show: s.charges},
		"/members/{number}/charge":  {needs: chargeMember, show: s.newCharge, form: true},
		"/members/{number}/loans":   {needs: listLoans, show: s.memberLoans},
		"/members/{number}/loan":    {needs: proposeLoan, show: s.newLoan, form: true},
		"/loans":                    {needs: listLoans, show: s.loans},
		"/loans/{id}":               {needs: getLoan, show: s.loan},
		"/loans/{id}/approve":       {needs: approveLoan, show: s.approveLoan, form: true},
		"/loans/{id}/pay":           {needs: payLoan, show: s.payLoan, form: true},
	}
}

// ask takes a question about a payout, or about one line of it.
func (s *site) ask(v *visit) (view, error) {
	p, err := s.readPayout(v)
	if err != nil {
		return view{}, err
	}
	f := v.form()
	line, _ := strconv.ParseInt(f.Value("line"), 10, 32) // none asks about all of it
	var about *settlementv1.PayoutLine
	for _, l := range p.GetLines() {
		if int64(l.GetLine()) == line {
			about = l
		}
	}
	return s.plainTask(v, f, "ask", "Ask about barrel "+p.GetDrumTag(), map[string]any{"Payout": p, "About": about}, func() (string, error) {
		made, err := s.accounts.OpenDispute(v.ctx, &settlementv1.OpenDisputeRequest{RequestId: f.RequestID, Payout: p.GetName(), Line: about.GetLine(), Question: f.Value("question")})
		return "/questions/" + idOf(made.GetName()), err
	})
}

func (s *site) questions(v *visit) (view, error) {
	query := v.URL.Query()
	req := &settlementv1.ListDisputesRequest{PageSize: 50, PageToken: query.Get("page"), Member: memberName(query.Get("member")), OpenOnly: query.Get("all") == "" && !v.onlyMember()}
	if v.onlyMember() {
		req.Member = v.who.Member
	}
	found, err := s.accounts.ListDisputes(v.ctx, req)
	if err != nil {
		return view{}, err
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
	return view{page: "questions", title: "Questions", data: map[string]any{
		"Questions": found.GetDisputes(), "Open": open, "Overdue": overdue, "Own": v.onlyMember(), "All": query.Get("all") != "", "Next": nextPage(v, found.GetNextPageToken()),
	}}, nil
}

func (s *site) readQuestion(v *visit) (*settlementv1.Dispute, error) {
	return s.accounts.GetDispute(v.ctx, &settlementv1.GetDisputeRequest{Name: "disputes/" + v.PathValue("id")})
}

func (s *site) question(v *visit) (view, error) {
	d, err := s.readQuestion(v)
	if err != nil {
		return view{}, err
	}
	return view{page: "question", title: "Question " + d.GetNumber(), data: map[string]any{
		"Question": d, "Own": v.onlyMember(), "MayAnswer": d.GetAnswerer() == "" && v.mayCall(answerDispute), "MayPayout": v.mayCall(getPayout),
	}}, nil
}

func (s *site) answerQuestion(v *visit) (view, error) {
	d, err := s.readQuestion(v)
	if err != nil {
		return view{}, err
	}
	f := v.form()
	return s.plainTask(v, f, "answerquestion", "Answer "+d.GetNumber(), map[string]any{"Question": d, "Outcomes": disputeOutcomes}, func() (string, error) {
		_, err := s.accounts.AnswerDispute(v.ctx, &settlementv1.AnswerDisputeRequest{
			RequestId: f.RequestID, Name: d.GetName(), Answer: f.Value("answer"), Outcome: settlementv1.DisputeOutcome(settlementv1.DisputeOutcome_value["DISPUTE_OUTCOME_"+f.Value("outcome")]),
		})
		return "/questions/" + idOf(d.GetName()), err
	})
}
