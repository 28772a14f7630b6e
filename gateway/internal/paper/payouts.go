package paper

import (
	"fmt"
	"slices"
	"time"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/quantity"
)

// account is everything a member was credited, oldest first, and what waits.
type account struct {
	member  *intakev1.Member
	payouts []*settlementv1.Payout
	waiting []*settlementv1.Unpriced
	sums    sums
}

// sums of an account. They are added up from the payouts that are printed, so that the paper agrees with itself whatever
// is credited while it is made.
type sums struct {
	gross, charges, retained, before, net quantity.Money
	currency                              string
	// running is the sum after each payout.
	running []quantity.Money
}

func (s sums) money(m quantity.Money) *typev1.Money {
	return &typev1.Money{Amount: m.String(), CurrencyCode: s.currency}
}

func newAccount(member *intakev1.Member, newestFirst []*settlementv1.Payout, waiting []*settlementv1.Unpriced, currency string) (account, error) {
	a := account{member: member, payouts: slices.Clone(newestFirst), waiting: waiting, sums: sums{currency: currency}}
	slices.Reverse(a.payouts)
	for _, payout := range a.payouts {
		if err := a.sums.add(payout); err != nil {
			return a, fmt.Errorf("%s: %w", payout.GetName(), err)
		}
	}
	return a, nil
}

func (s *sums) add(p *settlementv1.Payout) error {
	var faults []error
	read := func(m *typev1.Money) quantity.Money {
		v, err := quantity.ParseMoney(m.GetAmount())
		if err == nil && m.GetCurrencyCode() != s.currency {
			err = fmt.Errorf("an amount in %q, not in %s", m.GetCurrencyCode(), s.currency)
		}
		if err != nil {
			faults = append(faults, err)
		}
		return v
	}
	net, gross := read(p.GetNetAmount()), read(p.GetGrossAmount())
	var lines quantity.Money
	for _, l := range p.GetLines() {
		amount := read(l.GetAmount())
		lines += amount
		switch l.GetKind() { //nolint:exhaustive // the rest is in gross_amount
		case settlementv1.LineKind_LINE_KIND_DEDUCTION:
			s.charges += amount
		case settlementv1.LineKind_LINE_KIND_RETAIN:
			s.retained += amount
		case settlementv1.LineKind_LINE_KIND_CREDITED_BEFORE:
			s.before += amount
		}
	}
	if len(faults) > 0 {
		return faults[0]
	}
	if lines != net {
		return fmt.Errorf("its lines come to %s and it says %s", lines, net)
	}
	s.gross, s.net = s.gross+gross, s.net+net
	s.running = append(s.running, s.net)
	return nil
}

// newest is the date the paper carries: that of the last thing on it.
func (a account) newest() time.Time {
	latest := a.member.GetCreateTime().AsTime()
	for _, p := range a.payouts {
		if t := p.GetPriceTime().AsTime(); t.After(latest) {
			latest = t
		}
	}
	return latest
}
