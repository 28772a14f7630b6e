package app

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/loan"
	"barrelhead.example/services/settlement/internal/domain/payment"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// fillAccount lists what stands on the member's account beside payouts and payments, and gives its sum.
func (a *App) fillAccount(ctx context.Context, tx pgx.Tx, out *settlementv1.Statement) (quantity.Money, error) {
	entries, err := a.Store.MemberEntries(ctx, tx, out.GetMember())
	if err != nil {
		return 0, err
	}
	var other, patronage, loans quantity.Money
	for _, e := range entries {
		other += e.Amount
		switch {
		case e.Kind == domain.PatronageCash:
			patronage += e.Amount
		case e.Kind == domain.LoanDeduction || e.Kind == domain.OverAdvanceLent:
			loans += e.Amount
		default:
			out.Charges = append(out.Charges, a.chargeToProto(e))
		}
	}
	out.Other, out.Patronage = wire.MoneyToProto(other, a.Terms.Currency), wire.MoneyToProto(patronage, a.Terms.Currency)
	out.LoanMovements = wire.MoneyToProto(loans, a.Terms.Currency)
	if err := a.fillLoans(ctx, tx, out); err != nil {
		return 0, err
	}
	return other, a.fillCreditors(ctx, tx, out)
}

func (a *App) fillLoans(ctx context.Context, tx pgx.Tx, out *settlementv1.Statement) error {
	lent, err := a.Store.LentLoans(ctx, tx, out.GetMember())
	if err != nil {
		return err
	}
	var open []*loan.Loan
	for _, l := range lent {
		if l.Open() {
			open = append(open, l)
		}
	}
	out.Loans, err = a.loansToProto(open)
	return err
}

// fillCreditors lists who else has a right in the member's payments.
func (a *App) fillCreditors(ctx context.Context, tx pgx.Tx, out *settlementv1.Statement) error {
	notices, err := a.Store.StandingEncumbrances(ctx, tx)
	if err != nil {
		return err
	}
	for _, e := range notices {
		if e.Member != out.GetMember() {
			continue
		}
		row := &settlementv1.StatementCreditor{
			Creditor: e.Creditor, Right: e.Kind.Words(), Percent: e.Percent.String(), Taken: wire.MoneyToProto(e.Taken, a.Terms.Currency), Document: e.Document,
			CropYear: int32(e.CropYear), //nolint:gosec // a year
		}
		if e.Limit > 0 {
			row.Limit = wire.MoneyToProto(e.Limit, a.Terms.Currency)
		}
		out.Creditors = append(out.Creditors, row)
	}
	return nil
}

// fillPools lists the closed pools of the crop year: what the member's own honey came to, and what everybody's did where nobody
// can be told from it.
func (a *App) fillPools(ctx context.Context, tx pgx.Tx, out *settlementv1.Statement) error {
	standings, err := a.Store.Standings(ctx, tx, out.GetMember(), int(out.GetCropYear()))
	if err != nil {
		return err
	}
	for _, s := range standings {
		own, err := s.Own.Average()
		if err != nil {
			return err
		}
		row := &settlementv1.StatementPool{Title: s.Title, RunNumber: s.Run, Fingerprint: s.Fingerprint, OwnAverage: wire.PriceToProto(own, a.Terms.Currency, a.Terms.Unit)}
		if s.All.Shown() {
			average, err := s.All.Average()
			if err != nil {
				return err
			}
			row.AverageGrade, row.AverageColorClass = pool.AverageGrade(s.Classes), pool.AverageColor(s.Classes)
			row.Payable, row.Average = wire.MassToProto(s.All.Payable, a.Terms.Unit), wire.PriceToProto(average, a.Terms.Currency, a.Terms.Unit)
		}
		out.Pools = append(out.Pools, row)
	}
	return nil
}

// fillEquity lists the member's capital, and gives what of it was given back.
func (a *App) fillEquity(ctx context.Context, tx pgx.Tx, out *settlementv1.Statement) (quantity.Money, error) {
	lots, err := a.Store.EquityLots(ctx, tx, out.GetMember())
	if err != nil {
		return 0, err
	}
	var redeemed quantity.Money
	for _, l := range lots {
		redeemed += l.Redeemed
		out.Equity = append(out.Equity, a.lotToProto(l))
	}
	corrections, err := a.Store.EquityCorrections(ctx, tx, out.GetMember())
	for _, c := range corrections {
		out.EquityCorrections = append(out.EquityCorrections, a.correctionToProto(c))
	}
	return redeemed, err
}

// paidIn sums what was paid in a calendar year.
func paidIn(payments []payment.Item, year string) (sum quantity.Money) {
	for _, p := range payments {
		if string(p.Date)[:4] == year {
			sum += p.Amount
		}
	}
	return sum
}

// assessmentNote says who bears the national assessment, either way; nothing where there is none.
func (a *App) assessmentNote(out *settlementv1.Statement) []string {
	if a.Terms.Unit != quantity.LB || a.Terms.Currency != "USD" {
		return nil
	}
	var passed quantity.Money
	for _, p := range out.GetPayouts() {
		for _, l := range p.GetLines() {
			if amount, err := wire.MoneyFromProto(l.GetAmount(), a.Terms.Currency); err == nil && passesOn[l.GetCode()] {
				passed -= amount
			}
		}
	}
	if passed == 0 {
		return []string{"The national assessment on honey is borne by the cooperative as first handler; nothing was deducted from you for it."}
	}
	return []string{fmt.Sprintf("%s was deducted from you for the national assessment on honey, by the paper its lines name.", a.Terms.Money(passed))}
}

// passesOn are the codes under which a schedule passes the assessment on.
var passesOn = map[string]bool{"CHECK_OFF": true, "CHECKOFF": true, "ASSESSMENT": true}
