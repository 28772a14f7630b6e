package app

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/loan"
	"barrelhead.example/services/settlement/internal/domain/payment"
)

// month reads "2026-10" as its first and last day, which must have passed.
func (a *App) month(text string) (first, last domain.Date, err error) {
	start, err := time.Parse("2006-01", text)
	if err != nil {
		return "", "", apierr.Field("month", fmt.Sprintf("%.40q is not a month such as 2026-10", text))
	}
	return domain.Date(start.Format(time.DateOnly)), domain.Date(start.AddDate(0, 1, -1).Format(time.DateOnly)), nil
}

// PostLoanInterest puts a month's interest on the books.
func (a *App) PostLoanInterest(ctx context.Context, req *settlementv1.PostLoanInterestRequest) (*settlementv1.PostLoanInterestResponse, error) {
	_, last, err := a.month(req.GetMonth())
	if err != nil {
		return nil, err
	}
	if today := a.date(a.Clock.Now()); last >= today {
		return nil, apierr.Field("month", fmt.Sprintf("ends on %s; interest is posted when it is over", last))
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.PostLoanInterestResponse, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		loans, err := a.Store.LentLoans(ctx, tx, "")
		if err != nil {
			return nil, nil, err
		}
		var sum quantity.Money
		out := &settlementv1.PostLoanInterestResponse{ThroughDate: string(last)}
		for _, l := range loans {
			if l.NotBefore(last) != last {
				continue
			}
			due, err := l.On(last)
			if err != nil {
				return nil, nil, err
			}
			entries := l.Post(due, access.From(ctx).Login, a.Clock.Now())
			if len(entries) == 0 {
				continue
			}
			if err := a.onLoan(ctx, tx, l, nil, entries...); err != nil {
				return nil, nil, err
			}
			out.Loans++
			sum += due.Unposted
		}
		out.Interest = wire.MoneyToProto(sum, a.Terms.Currency)
		return out, nil, nil
	})
}

// loansDue are the loans of all members as of the day of payment, the oldest first.
func (a *App) loansDue(ctx context.Context, q pg.Querier, on domain.Date) (map[string][]payment.LoanDue, error) {
	loans, err := a.Store.LentLoans(ctx, q, "")
	if err != nil {
		return nil, err
	}
	due := map[string][]payment.LoanDue{}
	for _, l := range loans {
		d, err := l.On(l.NotBefore(on))
		if err != nil {
			return nil, err
		}
		if d.Payoff() > 0 {
			due[l.Member] = append(due[l.Member], payment.LoanDue{
				Name: l.Name(), Number: l.Number, Percent: l.Deduction, Interest: d.Interest, Principal: d.Principal, Authority: l.Authority,
			})
		}
	}
	return due, nil
}

// deduct takes from members' balances what a batch takes for their loans. The gate must be held.
func (a *App) deduct(ctx context.Context, tx pgx.Tx, b *payment.Batch, deductions []payment.Deduction) error {
	for _, d := range deductions {
		l, err := a.loan(ctx, tx, d.Loan)
		if err != nil {
			return err
		}
		due, err := l.On(l.NotBefore(b.PayDate))
		if err != nil {
			return err
		}
		taken, err := l.Pay(loan.Deducted, d.Interest+d.Principal, due)
		if err != nil {
			return err
		}
		taken.Document, taken.Batch, taken.Recorder, taken.Time = "batch "+b.Number, b.ID, b.Releaser, *b.ReleaseTime
		owed := &domain.MemberEntry{
			Kind: domain.LoanDeduction, Amount: -(d.Interest + d.Principal), Description: fmt.Sprintf("Loan %s, with batch %s", l.Number, b.Number),
			Authority: l.Authority, Calculation: d.Explanation,
		}
		if err := a.onLoan(ctx, tx, l, owed, append(l.Post(due, b.Releaser, *b.ReleaseTime), taken)...); err != nil {
			return err
		}
	}
	return nil
}

func (a *App) loansToProto(loans []*loan.Loan) ([]*settlementv1.Loan, error) {
	var out []*settlementv1.Loan
	today := a.date(a.Clock.Now())
	for _, l := range loans {
		row, err := a.loanToProto(l, l.NotBefore(today))
		if err != nil {
			return nil, err
		}
		out = append(out, row)
	}
	return out, nil
}

// loanToProto writes a loan as of a day.
func (a *App) loanToProto(l *loan.Loan, on domain.Date) (*settlementv1.Loan, error) {
	money := func(m quantity.Money) *typev1.Money { return wire.MoneyToProto(m, a.Terms.Currency) }
	out := &settlementv1.Loan{
		Name: l.Name(), Number: l.Number, Member: l.Member, Purpose: settlementv1.LoanPurpose(l.Purpose), Principal: money(l.Principal), //nolint:gosec // one of three
		AnnualRatePercent: l.Rate.String(), DayCount: settlementv1.DayCount(l.DayCount), DeductionPercent: l.Deduction.String(), Authority: l.Authority, //nolint:gosec // one of two
		StartDate: string(l.Start), Proposer: l.Proposer, ProposeTime: stamp(l.ProposeTime), Approver: l.Approver, Resolution: l.Resolution, AsOfDate: string(on),
		State: settlementv1.LoanState_LOAN_STATE_PROPOSED, PrincipalDue: money(0), InterestDue: money(0), Payoff: money(0),
		Headline: "Proposed; nothing is lent before the board approves it.",
	}
	if l.Approver == "" {
		return out, nil
	}
	due, err := l.On(on)
	if err != nil {
		return nil, err
	}
	out.ApproveTime, out.State = stamp(*l.ApproveTime), settlementv1.LoanState_LOAN_STATE_OPEN
	out.PrincipalDue, out.InterestDue, out.Payoff, out.Calculation = money(due.Principal), money(due.Interest), money(due.Payoff()), due.Why
	out.Headline = fmt.Sprintf("%s pays loan %s off on %s.", a.Terms.Money(due.Payoff()), l.Number, on)
	if due.Payoff() == 0 {
		out.State, out.Headline = settlementv1.LoanState_LOAN_STATE_REPAID, fmt.Sprintf("Loan %s is paid back.", l.Number)
	}
	for _, e := range l.Entries {
		out.Entries = append(out.Entries, &settlementv1.LoanEntry{
			EntryDate: string(e.Date), Kind: settlementv1.LoanEntryKind(e.Kind), Interest: money(e.Interest), Principal: money(e.Principal), //nolint:gosec // one of four
			Document: e.Document, Recorder: e.Recorder, RecordTime: stamp(e.Time),
		})
	}
	return out, nil
}
