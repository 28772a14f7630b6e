package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"google.golang.org/protobuf/proto"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/document"
	"barrelhead.example/services/settlement/internal/domain"
)

// notes are at the end of every statement.
var notes = []string{
	"Each line opens its rule, its readings and its calculation. If one of them looks wrong to you, tell the office; nothing is held against you for asking.",
	"This is not tax or legal advice. How amounts are classified is for the cooperative's accountant; ask your own about your case.",
}

// disputeNote says how to question a line, and by when it is answered.
var disputeNote = fmt.Sprintf("To question a line, open its barrel and ask there, or tell the office its number: you have an answer within %d days.", domain.DisputeDays)

// GetStatement gathers what one member was credited, charged and paid for a crop year.
func (a *App) GetStatement(ctx context.Context, req *settlementv1.GetStatementRequest) (*settlementv1.Statement, error) {
	if err := a.member(ctx, req.GetMember()); err != nil {
		return nil, err
	}
	out := &settlementv1.Statement{
		Member: req.GetMember(), CropYear: req.GetCropYear(), StatementDate: string(a.date(a.Clock.Now())),
	}
	// One moment for everything: a payout priced in between would be in the balance and not in the list.
	err := a.DB.InSnapshot(ctx, func(ctx context.Context, tx pgx.Tx) error {
		payouts, err := a.Store.YearPayouts(ctx, tx, out.GetMember(), int(out.GetCropYear()))
		if err != nil {
			return err
		}
		total, err := a.fillPayouts(ctx, tx, out, payouts)
		if err != nil {
			return err
		}
		balance, err := a.fillPayments(ctx, tx, out)
		if err != nil {
			return err
		}
		if err := a.fillPools(ctx, tx, out); err != nil {
			return err
		}
		if err := a.fillEstimates(ctx, tx, out, payouts); err != nil {
			return err
		}
		if err := a.fillContainers(ctx, tx, out); err != nil {
			return err
		}
		total.DisplayName = out.GetDisplayName()
		out.Total, err = totalToProto(total, a.Terms)
		if err != nil {
			return err
		}
		out.Headline = statementHeadline(balance, len(out.GetUnpriced()), a.Terms)
		return a.fillNextPayment(ctx, tx, out, balance)
	})
	if err != nil {
		return nil, err
	}
	out.Contact = contactToProto(a.Contact)
	out.Notes = slices.Concat(a.assessmentNote(out), []string{disputeNote}, notes)
	if out.VerificationCode, err = verificationCode(out); err != nil {
		return nil, err
	}
	issued, err := a.Store.Issues(ctx, a.DB.Pool(), out.GetMember(), int(out.GetCropYear()))
	if err != nil {
		return nil, err
	}
	a.numbered(out, issued)
	return out, nil
}

// fillPayouts lists the year's payouts and the barrels that wait, and sums the former.
func (a *App) fillPayouts(ctx context.Context, tx pgx.Tx, out *settlementv1.Statement, payouts []*domain.Payout) (domain.MemberTotal, error) {
	total := domain.MemberTotal{Member: out.GetMember()}
	sums, kinds := stages{}, map[uuid.UUID]domain.Kind{}
	for _, p := range payouts {
		total.Add(p)
		sums.add(p, kinds)
		out.Payouts = append(out.Payouts, PayoutToProto(p, a.Terms))
	}
	out.Advances, out.Finals = wire.MoneyToProto(sums[domain.Advance], a.Terms.Currency), wire.MoneyToProto(sums[domain.Final], a.Terms.Currency)
	out.Progress = wire.MoneyToProto(sums[domain.Progress], a.Terms.Currency)
	out.Fees = wire.MoneyToProto(sums[domain.Fee], a.Terms.Currency)
	if err := a.fillDeliveries(ctx, tx, out); err != nil {
		return total, err
	}
	waiting, err := a.Store.YearUnpriced(ctx, tx, out.GetMember(), int(out.GetCropYear()))
	if err != nil {
		return total, err
	}
	pricer, err := a.pricerFor(ctx, tx)
	if err != nil {
		return total, err
	}
	for _, s := range waiting {
		out.Unpriced = append(out.Unpriced, unpricedToProto(s, out.GetMember(), pricer))
	}
	total.Barrels = total.Priced + int64(len(waiting))
	return total, nil
}

// fillPayments lists what was paid from the member's balance in all crop years, and gives the balance.
func (a *App) fillPayments(ctx context.Context, tx pgx.Tx, out *settlementv1.Statement) (quantity.Money, error) {
	totals, err := a.Store.MemberTotals(ctx, tx, []string{out.GetMember()})
	if err != nil {
		return 0, err
	}
	out.DisplayName = totals[0].DisplayName
	credited, err := totals[0].Amount()
	if err != nil {
		return 0, err
	}
	payments, err := a.Store.MemberPayments(ctx, tx, out.GetMember())
	if err != nil {
		return 0, err
	}
	var paid quantity.Money
	for _, p := range payments {
		paid += p.Amount
		out.Payments = append(out.Payments, &settlementv1.StatementPayment{
			PaymentDate: string(p.Date), Payee: p.To, Amount: wire.MoneyToProto(p.Amount, a.Terms.Currency),
			Description: fmt.Sprintf("account ending in %s: %s", p.Ending, p.Explanation),
		})
	}
	redeemed, err := a.fillEquity(ctx, tx, out)
	if err != nil {
		return 0, err
	}
	other, err := a.fillAccount(ctx, tx, out)
	if err != nil {
		return 0, err
	}
	balance := credited + redeemed + other - paid
	out.Paid, out.Redeemed = wire.MoneyToProto(paid, a.Terms.Currency), wire.MoneyToProto(redeemed, a.Terms.Currency)
	out.Balance = wire.MoneyToProto(balance, a.Terms.Currency)
	out.PaidThisYear = wire.MoneyToProto(paidIn(payments, out.GetStatementDate()[:4]), a.Terms.Currency)
	return balance, nil
}

func statementHeadline(balance quantity.Money, waiting int, terms domain.Terms) string {
	var text string
	switch {
	case balance > 0:
		text = fmt.Sprintf("We owe you %s.", terms.Money(balance))
	case balance < 0:
		text = fmt.Sprintf("You owe us %s; it is carried forward, and nothing is collected by surprise.", terms.Money(-balance))
	default:
		text = "Nothing is open between us."
	}
	switch waiting {
	case 0:
	case 1:
		text += " 1 barrel waits for its price."
	default:
		text += " " + quantity.Count(int64(waiting), "barrel") + " wait for their price."
	}
	return text
}

// verificationCode is over everything but the day the statement was written, what grows by the day and how the office is
// reached: the same content has the same code on any day. The averages of a pool follow from the run whose fingerprint is in it.
func verificationCode(s *settlementv1.Statement) (string, error) {
	content, ok := proto.Clone(s).(*settlementv1.Statement)
	if !ok {
		return "", fmt.Errorf("copy the statement of %s", s.GetMember())
	}
	content.StatementDate, content.VerificationCode, content.PaidThisYear = "", "", nil
	content.Number, content.Supersedes, content.PreviousBalance = "", "", nil
	content.PaymentWords, content.NextPayment, content.NextPaymentDate = "", nil, ""
	content.Contact, content.Estimates = nil, nil
	for _, p := range content.GetPools() {
		p.AverageGrade, p.AverageColorClass = "", ""
	}
	for _, l := range content.GetLoans() {
		l.AsOfDate, l.InterestDue, l.Payoff, l.Headline, l.Calculation = "", nil, nil, "", ""
	}
	raw, err := proto.MarshalOptions{Deterministic: true}.Marshal(content)
	if err != nil {
		return "", fmt.Errorf("write the statement: %w", err)
	}
	sum := sha256.Sum256(raw)
	return hex.EncodeToString(sum[:8]), nil
}

// RenderStatement writes the same statement as a PDF.
func (a *App) RenderStatement(ctx context.Context, req *settlementv1.RenderStatementRequest) (*settlementv1.StatementDocument, error) {
	s, err := a.GetStatement(ctx, &settlementv1.GetStatementRequest{Member: req.GetMember(), CropYear: req.GetCropYear()})
	if err != nil {
		return nil, err
	}
	if err := a.issue(ctx, s); err != nil {
		return nil, err
	}
	now := a.Clock.Now()
	content, err := document.Statement(s, a.House, now)
	if err != nil {
		return nil, err
	}
	number := strings.TrimPrefix(s.GetMember(), "members/")
	return &settlementv1.StatementDocument{
		Content: content, ContentType: "application/pdf", FileName: fmt.Sprintf("statement-%s-%d.pdf", number, s.GetCropYear()),
		VerificationCode: s.GetVerificationCode(), RenderTime: stamp(now),
	}, nil
}
