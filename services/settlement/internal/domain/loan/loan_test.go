package loan_test

import (
	"math/big"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/loan"
)

func lent(principal quantity.Money, rate quantity.Percent, count loan.DayCount) *loan.Loan {
	l := &loan.Loan{Principal: principal, Rate: rate, DayCount: count, Proposer: "users/office1", Member: "members/M-0001"}
	l.Entries = []loan.Entry{l.Approve("users/board1", "Board 2026-01-10 no. 2", time.Date(2026, 1, 10, 9, 0, 0, 0, time.UTC), "2026-01-10")}
	return l
}

// The figures follow from the definition, principal × rate × days ÷ year, written out beside each.
func TestInterestByTheDay(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		what      string
		principal quantity.Money
		rate      quantity.Percent
		count     loan.DayCount
		on        domain.Date
		interest  quantity.Money
	}{
		{"the day it is lent does not count", 10_000_00, 6_00, loan.Actual365, "2026-01-10", 0},
		{"10000 × 0.06 × 31 ÷ 365 = 50.9589", 10_000_00, 6_00, loan.Actual365, "2026-02-10", 50_96},
		{"10000 × 0.06 × 31 ÷ 360 = 51.6667", 10_000_00, 6_00, loan.Actual360, "2026-02-10", 51_67},
		{"a year of 365 days is the rate", 10_000_00, 6_00, loan.Actual365, "2027-01-10", 600_00},
		{"366 days of a leap year: 10000 × 0.06 × 731 ÷ 365 = 1201.6438", 10_000_00, 6_00, loan.Actual365, "2028-01-11", 1201_64},
		{"half a cent goes up: 36.50 × 0.10 × 1 ÷ 365 = 0.01, 18.25 × 0.10 ÷ 365 = 0.005", 18_25, 10_00, loan.Actual365, "2026-01-11", 1},
		{"just below half does not: 18.24 × 0.10 ÷ 365 = 0.004997", 18_24, 10_00, loan.Actual365, "2026-01-11", 0},
		{"no rate, no interest", 10_000_00, 0, loan.Actual365, "2027-01-10", 0},
	} {
		d, err := lent(test.principal, test.rate, test.count).On(test.on)
		require.NoError(t, err, test.what)
		require.Equal(t, test.interest, d.Interest, test.what)
		require.Equal(t, test.principal+test.interest, d.Payoff(), test.what)
	}
	d, err := lent(10_000_00, 6_00, loan.Actual365).On("2026-02-10")
	require.NoError(t, err)
	require.Equal(t, "(10,000.00 × 31 days) × 6.0 % ÷ 365 = 50.96, rounded once", d.Why)
}

func TestNothingBeforeTheLastEntryOrBeyondThePayoff(t *testing.T) {
	t.Parallel()
	l := lent(10_000_00, 6_00, loan.Actual365)
	_, err := l.On("2026-01-09")
	require.ErrorContains(t, err, "an entry of 2026-01-10")
	d, err := l.On("2026-02-10")
	require.NoError(t, err)
	_, err = l.Pay(loan.Paid, 10_050_97, d)
	require.ErrorContains(t, err, "which is 10050.96")
	all, err := l.Pay(loan.Paid, 10_050_96, d)
	require.NoError(t, err)
	l.Entries = append(append(l.Entries, l.Post(d, "users/office1", time.Time{})...), all)
	require.False(t, l.Open())
	later, err := l.On("2027-02-10")
	require.NoError(t, err)
	require.Zero(t, later.Payoff(), "what is paid off bears no interest")
}

// However often interest is posted and whatever is paid when, what was charged in all is the exact sum, rounded once.
func TestInterestIsRoundedOnceWhateverIsPosted(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		l := lent(quantity.Money(rapid.Int64Range(1, 1e10).Draw(t, "principal")), quantity.Percent(rapid.Int64Range(0, 36_00).Draw(t, "rate")),
			loan.DayCount(rapid.IntRange(1, 2).Draw(t, "count")))
		exact, day := new(big.Rat), time.Date(2026, 1, 10, 0, 0, 0, 0, time.UTC)
		var paid quantity.Money
		for range rapid.IntRange(1, 30).Draw(t, "events") {
			days := rapid.IntRange(0, 400).Draw(t, "days")
			day = day.AddDate(0, 0, days)
			before, err := l.On(domain.Date(day.Format(time.DateOnly)))
			require.NoError(t, err)
			exact.Add(exact, new(big.Rat).SetFrac(
				new(big.Int).Mul(big.NewInt(int64(before.Principal)*int64(l.Rate)), big.NewInt(int64(days))), big.NewInt(10_000*l.DayCount.Days())))
			if rapid.Bool().Draw(t, "post") {
				l.Entries = append(l.Entries, l.Post(before, "users/office1", day)...)
			}
			if before.Payoff() > 0 && rapid.Bool().Draw(t, "pay") {
				amount := quantity.Money(rapid.Int64Range(1, int64(before.Payoff())).Draw(t, "amount"))
				e, err := l.Pay(loan.Paid, amount, before)
				require.NoError(t, err)
				require.LessOrEqual(t, e.Interest, quantity.Money(0))
				require.LessOrEqual(t, e.Principal, quantity.Money(0))
				require.Equal(t, -amount, e.Interest+e.Principal)
				require.True(t, e.Principal == 0 || e.Interest == -before.Interest, "interest first")
				paid -= e.Interest
				l.Entries = append(l.Entries, e)
			}
			after, err := l.On(domain.Date(day.Format(time.DateOnly)))
			require.NoError(t, err)
			require.Equal(t, halfUp(exact), after.Interest+paid)
		}
	})
}

func halfUp(r *big.Rat) quantity.Money {
	twice := new(big.Rat).Add(new(big.Rat).Mul(r, big.NewRat(2, 1)), big.NewRat(1, 1))
	return quantity.Money(new(big.Int).Div(twice.Num(), new(big.Int).Lsh(twice.Denom(), 1)).Int64())
}
