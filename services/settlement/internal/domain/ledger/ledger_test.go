package ledger_test

import (
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/ledger"
	"barrelhead.example/services/settlement/internal/domain/payment"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

const today = domain.Date("2026-09-20")

var (
	pounds = domain.Terms{Unit: quantity.LB, Currency: "USD"}
	noon   = time.Date(2026, 9, 20, 12, 0, 0, 0, time.UTC)
)

// advance is a payout with a honey line, a water step, a charge and a retain.
func advance(t require.TestingT, net quantity.Mass, price, rate quantity.Price) *domain.Payout {
	s := &domain.Schedule{
		Rows:     []domain.PriceRow{{ColorClass: "WHITE", Grade: "A", Advance: price}},
		Moisture: domain.MoistureRule{Base: domain.USGradeABase, Step: 10_000},
		Charges: []domain.Charge{
			{Code: "HAULING", Basis: domain.BasisNet, Rate: rate}, {Code: "RETAIN", Basis: domain.BasisPayable, Rate: rate, Retained: true},
		},
	}
	b := domain.Delivered{Barrel: uuid.Max, Member: "members/M-0001", DrumTag: "FC-04417", TicketNumber: "FC-2026-000731", Net: net, CropYear: 2026, Date: "2026-09-14"}
	p, err := domain.NewAdvance(domain.Compile(s), 0, b, domain.Certificate{Number: "G-1", ColorClass: "WHITE", Grade: "A", Water: 19_20}, pounds, noon)
	require.NoError(t, err)
	return p
}

func amounts(e *ledger.Entry) map[string]string {
	out := map[string]string{}
	for _, p := range e.Postings {
		out[p.Account] = p.Amount.String()
	}
	return out
}

func TestAdvanceInTheBooks(t *testing.T) {
	t.Parallel()
	e := ledger.ForPayout(advance(t, 640_000, 1_100_000, 20_000), today)
	require.NoError(t, e.Check())
	require.Equal(t, map[string]string{
		"expenses:honey:2026": "660.71", "income:charges:HAULING": "-12.80", "equity:retains:2026:members:M-0001": "-12.71",
		"liabilities:members:M-0001": "-635.20",
	}, amounts(e))
	require.Equal(t, "Advance, barrel FC-04417, ticket FC-2026-000731", e.Description)
}

func TestEveryPayoutBalancesAndItsReversalMirrors(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := advance(t, quantity.Mass(rapid.Int64Range(0, 4_000_000).Draw(t, "net")), quantity.Price(rapid.Int64Range(0, 5_000_000).Draw(t, "price")),
			quantity.Price(rapid.Int64Range(1, 500_000).Draw(t, "rate")))
		r, err := p.Reverse("because", pounds, noon)
		require.NoError(t, err)
		there, back := ledger.ForPayout(p, today), ledger.ForPayout(r, today)
		require.NoError(t, there.Check())
		require.NoError(t, back.Check())
		for i, posting := range there.Postings {
			require.Equal(t, posting.Account, back.Postings[i].Account)
			require.Equal(t, posting.Amount, -back.Postings[i].Amount)
		}
	})
}

func TestPoolAndPaymentEntries(t *testing.T) {
	t.Parallel()
	sale := ledger.ForPoolEntry(&pool.Record{Kind: pool.Proceeds, Amount: 5500_00, Description: "Sales", Document: "Invoice 1", Date: today}, 2026)
	require.Equal(t, map[string]string{"assets:buyers": "5500.00", "income:proceeds:2026": "-5500.00"}, amounts(sale))
	cost := ledger.ForPoolEntry(&pool.Record{Kind: pool.Expense, Amount: 600_00, Date: today}, 2026)
	require.Equal(t, map[string]string{"expenses:costs:2026": "600.00", "liabilities:suppliers": "-600.00"}, amounts(cost))
	paid := ledger.ForPayment(&payment.Item{ID: uuid.Max, Member: "members/M-0001", To: "Orchard Hill", Amount: 5_00, Date: today}, "P-2026-001")
	require.Equal(t, map[string]string{"liabilities:members:M-0001": "5.00", "assets:bank": "-5.00"}, amounts(paid))
	closing := ledger.ForClosing(&pool.Run{Number: "R-2026-01", ReleaseTime: &noon}, &pool.Account{CropYear: 2026, Title: "Table", Proceeds: 5500_00, Expenses: 600_00},
		&pool.Summary{ToMembers: 4899_99, Residual: 1}, today)
	require.NoError(t, closing.Check())
	require.Equal(t, "-0.01", amounts(closing)["equity:residual:2026"])
}

func TestTextIsOneLineAnAccount(t *testing.T) {
	t.Parallel()
	e := &ledger.Entry{Source: "poolEntries/1", Date: today, Description: "Sale; first\nof | many", Postings: []ledger.Posting{{"assets:buyers", 1_00}, {"income", -1_00}}}
	require.Equal(t, strings.Join([]string{
		"2026-09-20 (poolEntries/1) Sale, first of , many", "    assets:buyers  1.00 USD", "    income         -1.00 USD", "", "",
	}, "\n"), e.Text("USD"))
}

func TestReconciliationNamesTheAccount(t *testing.T) {
	t.Parallel()
	balances := []ledger.Balance{{"expenses:honey:2026", 10_00}, {"liabilities:members:M-0001", -7_00}, {"liabilities:members:M-0002", -3_00}}
	owed := map[string]quantity.Money{"members/M-0001": 7_00, "members/M-0002": 3_00, "members/M-0003": 0}
	require.NoError(t, ledger.Reconcile(balances, owed))
	debits, credits, err := ledger.Trial(balances)
	require.NoError(t, err)
	require.Equal(t, debits, credits)
	owed["members/M-0001"] = 8_00
	require.ErrorContains(t, ledger.Reconcile(balances, owed), "the account of members/M-0001 should be 8.00 and is 7.00")
	delete(owed, "members/M-0001")
	require.ErrorContains(t, ledger.Reconcile(balances, owed), "liabilities:members:M-0001 should be 0.00 and is 7.00")
	_, _, err = ledger.Trial(balances[1:])
	var total *domain.TotalError
	require.ErrorAs(t, err, &total)
}
