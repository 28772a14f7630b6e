package app

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/ledger"
	"barrelhead.example/services/settlement/internal/domain/loan"
)

// LoanStore is where loans are kept.
type LoanStore interface {
	InsertLoan(ctx context.Context, tx pgx.Tx, l *loan.Loan) error
	InsertLoanApproval(ctx context.Context, tx pgx.Tx, l *loan.Loan) error
	InsertLoanEntries(ctx context.Context, tx pgx.Tx, id uuid.UUID, entries ...loan.Entry) error
	CountLoans(ctx context.Context, tx pgx.Tx, year string) (int, error)
	Loan(ctx context.Context, q pg.Querier, id uuid.UUID) ([]*loan.Loan, error)
	ListLoans(ctx context.Context, q pg.Querier, member string, before int64, limit int) ([]*loan.Loan, error)
	LentLoans(ctx context.Context, q pg.Querier, member string) ([]*loan.Loan, error)
	Balance(ctx context.Context, q pg.Querier, member string) (quantity.Money, error)
}

// ProposeLoan writes a loan down.
func (a *App) ProposeLoan(ctx context.Context, req *settlementv1.ProposeLoanRequest) (*settlementv1.Loan, error) {
	draft, err := a.readLoan(req.GetLoan())
	if err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.Loan, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		if err := a.knownMember(ctx, tx, draft.Member); err != nil {
			return nil, nil, err
		}
		l := *draft
		l.Proposer, l.ProposeTime = access.From(ctx).Login, a.Clock.Now()
		year := string(a.date(l.ProposeTime))[:4]
		before, err := a.Store.CountLoans(ctx, tx, year)
		if err != nil {
			return nil, nil, err
		}
		l.Number = fmt.Sprintf("L-%s-%03d", year, before+1)
		if l.ID, err = uuid.NewRandom(); err != nil {
			return nil, nil, fmt.Errorf("name the loan: %w", err)
		}
		made, err := a.loanToProto(&l, a.date(l.ProposeTime))
		if err != nil {
			return nil, nil, err
		}
		return made, nil, a.Store.InsertLoan(ctx, tx, &l)
	})
}

// knownMember refuses a member intake has not registered.
func (a *App) knownMember(ctx context.Context, q pg.Querier, name string) error {
	known, err := a.Store.KnowsMember(ctx, q, name)
	if err == nil && !known {
		err = apierr.NotFound(name)
	}
	return err
}

func (a *App) readLoan(p *settlementv1.Loan) (*loan.Loan, error) {
	var f faultList
	l := &loan.Loan{Member: p.GetMember(), Purpose: loan.Purpose(p.GetPurpose()), DayCount: loan.DayCount(p.GetDayCount()), Authority: p.GetAuthority()}
	var err error
	l.Principal, err = wire.EnteredFromProto(p.GetPrincipal(), a.Terms.Currency)
	f.note("loan.principal", err)
	l.Rate, err = quantity.ParsePercent(p.GetAnnualRatePercent())
	f.note("loan.annual_rate_percent", err)
	l.Deduction, err = quantity.ParsePercent(p.GetDeductionPercent())
	f.note("loan.deduction_percent", err)
	return l, refuse("loan", f, l.Validate())
}

// loan is one loan with its entries, or NOT_FOUND, as for a neighbour's.
func (a *App) loan(ctx context.Context, q pg.Querier, name string) (*loan.Loan, error) {
	id, err := identity(name, "loans")
	if err != nil {
		return nil, err
	}
	found, err := a.Store.Loan(ctx, q, id)
	if err != nil {
		return nil, err
	}
	if len(found) == 0 || !access.SeesMember(ctx, found[0].Member) {
		return nil, apierr.NotFound(name)
	}
	return found[0], nil
}

// ApproveLoan lends.
func (a *App) ApproveLoan(ctx context.Context, req *settlementv1.ApproveLoanRequest) (*settlementv1.Loan, error) {
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.Loan, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		l, err := a.loan(ctx, tx, req.GetName())
		if err != nil {
			return nil, nil, err
		}
		balance, err := a.Store.Balance(ctx, tx, l.Member)
		if err != nil {
			return nil, nil, err
		}
		actor, now := access.From(ctx), a.Clock.Now()
		if err := l.MayApprove(actor.Login, actor.Member, balance); err != nil {
			return nil, nil, err
		}
		entry := l.Approve(actor.Login, req.GetResolution(), now, a.date(now))
		if err := a.Store.InsertLoanApproval(ctx, tx, l); err != nil {
			return nil, nil, err
		}
		var owed *domain.MemberEntry
		if l.Purpose == loan.OverAdvance {
			owed = &domain.MemberEntry{Kind: domain.OverAdvanceLent, Amount: l.Principal, Description: "Over-advance turned into loan " + l.Number, Authority: l.Authority}
		}
		if err := a.onLoan(ctx, tx, l, owed, entry); err != nil {
			return nil, nil, err
		}
		made, err := a.loanToProto(l, a.date(now))
		return made, []feed.Fact{{Aggregate: l.Name(), Payload: &settlementv1.LoanApproved{Loan: made}}}, err
	})
}

// onLoan saves and books entries of a loan. owed is what the last of them does to the member's account; nil for nothing. The
// gate must be held.
func (a *App) onLoan(ctx context.Context, tx pgx.Tx, l *loan.Loan, owed *domain.MemberEntry, entries ...loan.Entry) error {
	last := len(entries) - 1
	booked := make([]*ledger.Entry, 0, len(entries))
	for i := range entries {
		e := &entries[i]
		var err error
		if e.ID, err = uuid.NewRandom(); err != nil {
			return fmt.Errorf("name an entry of a loan: %w", err)
		}
		var beside *domain.MemberEntry
		if i == last && owed != nil {
			beside = owed
			beside.ID, beside.Member, beside.Date, beside.Recorder, beside.Time = e.ID, l.Member, e.Date, e.Recorder, e.Time
			if err := a.Store.InsertMemberEntries(ctx, tx, beside); err != nil {
				return err
			}
		}
		booked = append(booked, ledger.ForLoan(l, e, beside))
	}
	if err := a.Store.InsertLoanEntries(ctx, tx, l.ID, entries...); err != nil {
		return err
	}
	l.Entries = append(l.Entries, entries...)
	return a.book(ctx, tx, booked...)
}

// RecordLoanPayment records money a member paid.
func (a *App) RecordLoanPayment(ctx context.Context, req *settlementv1.RecordLoanPaymentRequest) (*settlementv1.Loan, error) {
	var f faultList
	amount, err := wire.EnteredFromProto(req.GetAmount(), a.Terms.Currency)
	f.note("amount", err)
	if err == nil && amount <= 0 {
		f = append(f, apierr.Fault{Field: "amount", Message: fmt.Sprintf("is %v; it must be above 0.00", amount)})
	}
	on, err := domain.ParseDate(req.GetEntryDate())
	f.note("entry_date", err)
	if today := a.date(a.Clock.Now()); on > today {
		f = append(f, apierr.Fault{Field: "entry_date", Message: fmt.Sprintf("is %s, after today, %s", on, today)})
	}
	if err := apierr.Fields(f...); err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.Loan, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		l, err := a.loan(ctx, tx, req.GetName())
		if err != nil {
			return nil, nil, err
		}
		due, err := l.On(on)
		if err != nil {
			return nil, nil, err
		}
		login, now := access.From(ctx).Login, a.Clock.Now()
		paid, err := l.Pay(loan.Paid, amount, due)
		if err != nil {
			return nil, nil, err
		}
		paid.Document, paid.Recorder, paid.Time = req.GetDocument(), login, now
		if err := a.onLoan(ctx, tx, l, nil, append(l.Post(due, login, now), paid)...); err != nil {
			return nil, nil, err
		}
		made, err := a.loanToProto(l, on)
		return made, nil, err
	})
}

// GetLoan reads a loan as of a day.
func (a *App) GetLoan(ctx context.Context, req *settlementv1.GetLoanRequest) (*settlementv1.Loan, error) {
	on, err := optionalDate("as_of_date", req.GetAsOfDate())
	if err != nil {
		return nil, err
	}
	l, err := a.loan(ctx, a.DB.Pool(), req.GetName())
	if err != nil {
		return nil, err
	}
	if on == "" {
		on = l.NotBefore(a.date(a.Clock.Now()))
	}
	return a.loanToProto(l, on)
}

// ListLoans pages through loans.
func (a *App) ListLoans(ctx context.Context, req *settlementv1.ListLoansRequest) (*settlementv1.ListLoansResponse, error) {
	member, err := a.visible(ctx, req.GetMember())
	if err != nil {
		return nil, err
	}
	var before int64
	size, err := begin(req, &before)
	if err != nil {
		return nil, err
	}
	found, err := a.Store.ListLoans(ctx, a.DB.Pool(), member, before, size+1)
	if err != nil {
		return nil, err
	}
	out := &settlementv1.ListLoansResponse{}
	found, out.NextPageToken = page.Cut(found, size, req, func(l *loan.Loan) any { return l.Place })
	out.Loans, err = a.loansToProto(found)
	return out, err
}

// visible is the member a list is limited to: the one asked for, or the caller's own; empty for all.
func (a *App) visible(ctx context.Context, member string) (string, error) {
	actor := access.From(ctx)
	switch {
	case member != "":
		return member, a.member(ctx, member)
	case actor.OnlyMember() && actor.Member == "":
		return "", apierr.NotFound("members/")
	case actor.OnlyMember():
		return actor.Member, nil
	}
	return "", nil
}
