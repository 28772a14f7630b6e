package payment_test

import (
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/payment"
)

var dollars = domain.Terms{Unit: quantity.LB, Currency: "USD"}

func right(id byte, kind payment.EncumbranceKind, who string, percent quantity.Percent) *payment.Encumbrance {
	return &payment.Encumbrance{ID: uuid.UUID{id}, Kind: kind, Creditor: who, Percent: percent, Received: "2026-09-01", Document: "Paper " + who}
}

// The order of deductions (handled in the order of the trade: taxes, the cooperative's loans, liens and assignments, the member).
func TestOrderOfRights(t *testing.T) {
	t.Parallel()
	claim := payment.Claim{
		Member: "members/M-0001", Holder: "Orchard Hill", Balance: 1000_00,
		Notices: []*payment.Encumbrance{
			right(1, payment.Assignment, "Feed mill", 10_00), right(2, payment.Lien, "Valley Farm Credit", 50_00),
			right(3, payment.Withholding, "Tax authority", 24_00), right(4, payment.JointPayee, "Hill Bank", 10_00),
		},
		Loans: []payment.LoanDue{
			{Name: "loans/1", Number: "L-2026-001", Percent: 30_00, Interest: 12_50, Principal: 500_00, Authority: "Loan agreement"},
			{Name: "loans/2", Number: "L-2026-002", Percent: 100_00, Interest: 1_00, Principal: 9_00, Authority: "Feed note"},
		},
	}
	shares, err := claim.Split("2026-10-02", dollars)
	require.NoError(t, err)
	var got []string
	for _, p := range shares.Parts {
		got = append(got, p.To+" "+p.Amount.String())
	}
	require.Equal(t, []string{"Tax authority 240.00", "Valley Farm Credit 450.00"}, got, "240 + 310 leave 450 for a lien of 500; nothing is left for those behind it")
	require.Equal(t, quantity.Money(12_50), shares.Deductions[0].Interest)
	require.Equal(t, quantity.Money(287_50), shares.Deductions[0].Principal)
	require.Equal(t, "30.0 % of $1,000.00 for loan L-2026-001 by Loan agreement: $12.50 interest, then $287.50 principal", shares.Deductions[0].Explanation)
	require.Equal(t, quantity.Money(10_00), shares.Deductions[1].Interest+shares.Deductions[1].Principal, "no more than is owed")
	claim.Notices = claim.Notices[3:]
	shares, err = claim.Split("2026-10-02", dollars)
	require.NoError(t, err)
	require.Equal(t, "Orchard Hill and Hill Bank, jointly", shares.Parts[0].To)
	require.Equal(t, "balance of $1,000.00, less $310.00 for loans, less $100.00 to others", shares.Parts[1].Explanation)
}

func TestAnEstateIsPaidToItsHeirsOrNotAtAll(t *testing.T) {
	t.Parallel()
	claim := payment.Claim{
		Member: "members/M-0001", Holder: "Orchard Hill", Balance: 1000_01,
		Notices: []*payment.Encumbrance{right(1, payment.Heir, "Daughter", 66_67), right(2, payment.Lien, "Valley Farm Credit", 10_00)},
	}
	shares, err := claim.Split("2026-10-02", dollars)
	require.NoError(t, err)
	require.Equal(t, payment.Shares{Blocked: "the shares of the heirs come to 66.67 % and not to 100; nothing is paid of the estate until they do"}, shares)
	claim.Notices = append(claim.Notices, right(3, payment.Heir, "Son", 33_33))
	shares, err = claim.Split("2026-10-02", dollars)
	require.NoError(t, err)
	require.Equal(t, quantity.Money(100_00), shares.Parts[0].Amount, "a lien on the dead is a lien on the estate")
	require.Equal(t, []quantity.Money{600_04, 299_97}, []quantity.Money{shares.Parts[1].Amount, shares.Parts[2].Amount})
	early, err := claim.Split("2026-08-31", dollars)
	require.NoError(t, err)
	require.Equal(t, "members/M-0001", early.Parts[1].Payee, "before the day the heirs come in the member is paid")
}
