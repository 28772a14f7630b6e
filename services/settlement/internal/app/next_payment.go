package app

import (
	"context"
	"fmt"
	"slices"

	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/payment"
)

// batchesLookedAt is how many of the newest lists a planned payment may be in: older ones were released or given up.
const batchesLookedAt = 5

// fillNextPayment says when money comes, or why it waits: the date the office has set, and no other.
func (a *App) fillNextPayment(ctx context.Context, tx pgx.Tx, out *settlementv1.Statement, balance quantity.Money) error {
	if balance <= 0 {
		return nil
	}
	today := a.date(a.Clock.Now())
	batches, err := a.Store.ListBatches(ctx, tx, 0, batchesLookedAt)
	if err != nil {
		return err
	}
	for _, b := range batches {
		if b.ReleaseTime != nil || b.PayDate < today {
			continue
		}
		list, err := b.List()
		if err != nil {
			return err
		}
		if own := ownOf(list, out.GetMember()); own > 0 {
			out.NextPayment, out.NextPaymentDate = wire.MoneyToProto(own, a.Terms.Currency), string(b.PayDate)
			out.PaymentWords = fmt.Sprintf("A payment of %s is planned for %s.", a.Terms.Money(own), b.PayDate)
			return nil
		}
	}
	reason, err := a.blockedNow(ctx, tx, out, balance, today)
	switch {
	case err != nil:
		return err
	case reason != "":
		out.PaymentWords = fmt.Sprintf("%s is yours and is not paid yet: %s.", a.Terms.Money(balance), reason)
	default:
		out.PaymentWords = fmt.Sprintf("%s is ready to be paid. The office has not set the next payment day yet.", a.Terms.Money(balance))
	}
	return nil
}

// ownOf is what goes to the member itself.
func ownOf(list *payment.List, member string) (sum quantity.Money) {
	for _, i := range list.Items {
		if i.Member == member && i.Payee == member {
			sum += i.Amount
		}
	}
	return sum
}

// blockedNow is why a member would not be paid today; empty where it would.
func (a *App) blockedNow(ctx context.Context, q pg.Querier, out *settlementv1.Statement, balance quantity.Money, today domain.Date) (string, error) {
	notices, err := a.Store.StandingEncumbrances(ctx, q)
	if err != nil {
		return "", err
	}
	accounts, err := a.Store.NewestAccounts(ctx, q)
	if err != nil {
		return "", err
	}
	loans, err := a.loansDue(ctx, q, today)
	if err != nil {
		return "", err
	}
	notices = slices.DeleteFunc(notices, func(e *payment.Encumbrance) bool { return e.Member != out.GetMember() })
	years, err := a.yearsOf(ctx, q, notices)
	if err != nil {
		return "", err
	}
	o := payment.Owed{Accounts: map[string]*payment.Account{}, Claim: payment.Claim{
		Member: out.GetMember(), Holder: out.GetDisplayName(), Balance: balance, Loans: loans[out.GetMember()],
		Notices: notices, Years: years[out.GetMember()],
	}}
	for _, p := range accounts {
		o.Accounts[p.Payee] = p
	}
	list, err := payment.Propose([]payment.Owed{o}, usualMinimum, today, a.Terms)
	if err != nil || len(list.Blocked) == 0 {
		return "", err
	}
	return list.Blocked[0].Reason, nil
}
