package domain

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// EquityCorrection puts right what was given back of a lot of retains after the honey it was kept for was taken back or priced
// again. Amount is negative for what the member owes back, positive for what is given back again.
type EquityCorrection struct {
	ID       uuid.UUID
	Member   string
	CropYear int
	Amount   quantity.Money
	Reason   string
	// Payout is the last of those that brought it about.
	Payout uuid.UUID
	Time   time.Time
}

// Name is "equityCorrections/{uuid}".
func (c EquityCorrection) Name() string { return "equityCorrections/" + c.ID.String() }

// Correct keeps the rule that no more of a lot is given back than was kept: what stands given back is what the resolutions gave,
// as far as the lot reaches. The difference is owed by the member, like an advance that was too much, and is never taken from
// other capital, which only the bylaws could allow; once the honey is priced again, as much is given back again. cause is the
// payout that changed the lot. ok is false where nothing is to be corrected.
func (l EquityLot) Correct(cause *Payout, terms Terms) (c EquityCorrection, ok bool) {
	due := min(l.Given, max(l.Issued, 0))
	if due == l.Redeemed {
		return c, false
	}
	c = EquityCorrection{
		ID: uuid.NewSHA1(payoutSpace, append([]byte("equity/"), cause.ID[:]...)), Member: l.Member, CropYear: l.CropYear, Amount: due - l.Redeemed,
		Payout: cause.ID, Time: cause.Time,
	}
	what := "is owed back"
	if c.Amount > 0 {
		what = "is given back again"
	}
	c.Reason = fmt.Sprintf("honey of crop year %d was corrected after its capital had been given back: %s of it is kept now, the resolutions gave back %s, so %s %s",
		l.CropYear, terms.money(l.Issued), terms.money(l.Given), terms.money(max(c.Amount, -c.Amount)), what)
	return c, true
}
