package domain_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/ledger"
)

// Two members' capital over three crop years.
const (
	equityYears  = 3
	equitySteps  = 60
	equityTrials = 400
)

// capital is the equity of a few members as a sequence of deeds leaves it, with the books beside it.
type capital struct {
	quiet
	drawer

	lots   map[string]*domain.EquityLot
	stands []*domain.Payout
	books  map[string]quantity.Money
	cash   map[string]quantity.Money
	seen   map[string]int
}

func lotKey(member string, year int) string { return fmt.Sprintf("%s/%d", member, year) }

func (c *capital) lot(p *domain.Payout) *domain.EquityLot {
	key := lotKey(p.Barrel.Member, p.Barrel.CropYear)
	if c.lots[key] == nil {
		c.lots[key] = &domain.EquityLot{Member: p.Barrel.Member, CropYear: p.Barrel.CropYear, Class: domain.RetainUndesignated}
	}
	return c.lots[key]
}

// take keeps a payout and corrects the lot it changed, as the office does in one transaction.
func (c *capital) take(p *domain.Payout) {
	lot := c.lot(p)
	c.book(ledger.ForPayout(p, "2027-01-01"))
	for _, l := range p.Lines {
		if l.Kind == domain.LineRetain {
			lot.Issued -= l.Amount
		}
	}
	e, ok := lot.Correct(p, pounds)
	if !ok {
		return
	}
	require.Contains(c, e.Reason, fmt.Sprintf("crop year %d", lot.CropYear))
	lot.Redeemed += e.Amount
	c.cash[lot.Member] += e.Amount
	c.book(ledger.ForEquityCorrection(e, "2027-01-01"))
	c.seen["owed back"] += one(e.Amount < 0)
	c.seen["given back again"] += one(e.Amount > 0)
	_, again := lot.Correct(p, pounds)
	require.False(c, again, "corrected once, it is right")
}

func (c *capital) book(e *ledger.Entry) {
	require.NoError(c, e.Check())
	for _, p := range e.Postings {
		c.books[p.Account] += p.Amount
	}
}

func (c *capital) deliver() *domain.Payout {
	retain := c.money(30_00)
	p := &domain.Payout{
		ID: c.id(), Kind: domain.Advance, Share: domain.WholeShare,
		Barrel: domain.Delivered{Barrel: c.id(), Member: fmt.Sprintf("members/M-%04d", 1+c.IntN(2)), CropYear: 2025 + c.IntN(equityYears), DrumTag: "FC-1"},
		Lines:  []domain.Line{{Kind: domain.LineHoney, Amount: 700_00}, {Kind: domain.LineRetain, Code: "RETAIN", Amount: -retain}},
		Gross:  700_00, Net: 700_00 - retain,
	}
	require.NoError(c, p.Check())
	c.stands = append(c.stands, p)
	c.take(p)
	return p
}

func (c *capital) takeBack() *domain.Payout {
	if len(c.stands) == 0 {
		return nil
	}
	i := c.IntN(len(c.stands))
	p := c.stands[i]
	c.stands = slices.Delete(c.stands, i, i+1)
	back, err := p.Reverse("the ticket was voided", pounds, p.Time)
	require.NoError(c, err)
	c.take(back)
	return p
}

// reissue takes a payout back and makes the same again: nothing may be left of it.
func (c *capital) reissue() {
	before := map[string]domain.EquityLot{}
	for k, l := range c.lots {
		before[k] = *l
	}
	cash := c.cash["members/M-0001"] + c.cash["members/M-0002"]
	p := c.takeBack()
	if p == nil {
		return
	}
	again := *p
	again.ID, again.Barrel.Ticket = c.id(), c.id()
	c.stands = append(c.stands, &again)
	c.take(&again)
	for k, l := range c.lots {
		require.Equal(c, before[k], *l, "after a void and an identical reissue")
	}
	require.Equal(c, cash, c.cash["members/M-0001"]+c.cash["members/M-0002"])
}

func (c *capital) redeem() {
	var lots []domain.EquityLot
	for _, l := range c.lots {
		lots = append(lots, *l)
	}
	r := &domain.Redemption{ID: c.id(), CropYear: 2025 + c.IntN(equityYears), Percent: c.percent(100_00), Resolution: "Annual meeting"}
	if r.Redeem(lots) != nil {
		return // not the oldest, or nothing there
	}
	c.seen["redeemed"]++
	for _, e := range ledger.ForRedemption(r, "2033-01-01") {
		c.book(e)
	}
	for _, p := range r.Parts {
		l := c.lots[lotKey(p.Member, r.CropYear)]
		l.Redeemed, l.Given = l.Redeemed+p.Amount, l.Given+p.Amount
		c.cash[p.Member] += p.Amount
	}
}

// holds is what must be true after every deed.
func (c *capital) holds() {
	net := map[string]quantity.Money{}
	for _, l := range c.lots {
		require.True(c, l.Balance() >= 0 && l.Redeemed >= 0, "%+v", *l)
		require.Equal(c, min(l.Given, l.Issued), l.Redeemed, "%+v", *l)
		account := fmt.Sprintf("equity:retains:%d:members:%s", l.CropYear, l.Member[len("members/"):])
		require.Equal(c, -l.Balance(), c.books[account], "the books and the lot")
		net[l.Member] += l.Redeemed
	}
	for m, amount := range net {
		require.Equal(c, amount, c.cash[m], "what stands given back is what the member has of it")
		for _, p := range c.stands {
			if p.Barrel.Member == m {
				amount += p.Net
			}
		}
		require.Equal(c, -amount, c.books[ledger.MemberAccount(m)])
	}
}

// Whatever order honey comes, is taken back, priced again, and capital is given back in: no lot is ever below zero, no more is
// given back than was kept, what was too much is owed by the member, and the books say the same.
func TestCapitalIsNeverBelowZero(t *testing.T) {
	t.Parallel()
	seen := map[string]int{}
	for seed := range uint64(equityTrials) {
		c := &capital{
			quiet: quiet{t}, drawer: drawer{rand.New(rand.NewPCG(seed, 604))}, lots: map[string]*domain.EquityLot{}, books: map[string]quantity.Money{},
			cash: map[string]quantity.Money{}, seen: seen,
		}
		for range equitySteps {
			switch c.IntN(8) {
			case 0, 1, 2:
				c.deliver()
			case 3, 4:
				c.takeBack()
			case 5:
				c.reissue()
			default:
				c.redeem()
			}
			c.holds()
		}
	}
	for _, what := range []string{"redeemed", "owed back", "given back again"} {
		require.Greater(t, seen[what], equityTrials/10, what)
	}
}

// The numbers of one case by hand: 19.20 kept, half given back, and the delivery voided.
func TestCapitalGivenBackForHoneyThatIsVoidedIsOwed(t *testing.T) {
	t.Parallel()
	lot := domain.EquityLot{Member: "members/M-0001", CropYear: 2025, Class: domain.RetainUndesignated, Issued: 0, Given: 9_60, Redeemed: 9_60}
	cause := &domain.Payout{ID: uuid.UUID{7}}
	e, ok := lot.Correct(cause, pounds)
	require.True(t, ok)
	require.Equal(t, quantity.Money(-9_60), e.Amount)
	require.Equal(t, "honey of crop year 2025 was corrected after its capital had been given back: $0.00 of it is kept now, the resolutions gave back $9.60, so $9.60 is owed back", e.Reason)
	lot.Redeemed, lot.Issued = 0, 5_00
	e, ok = lot.Correct(&domain.Payout{ID: uuid.UUID{8}}, pounds)
	require.True(t, ok)
	require.Equal(t, quantity.Money(5_00), e.Amount, "as far as the lot reaches")
	lot.Redeemed, lot.Issued = 9_60, 9_60
	_, ok = lot.Correct(cause, pounds)
	require.False(t, ok)
}
