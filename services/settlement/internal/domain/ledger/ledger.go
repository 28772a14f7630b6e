// Package ledger writes every amount twice: each payout, pool entry, closing and payment becomes one journal entry whose
// postings sum to nothing. Debits are positive. What members are owed is a liability and so negative.
package ledger

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/payment"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// Posting is one amount on one account, debit positive.
type Posting struct {
	Account string
	Amount  quantity.Money
}

// Entry is one journal entry.
type Entry struct {
	// Number is its place in the journal, once saved.
	Number int64
	// Source is what it records, e.g. "payouts/…"; nothing is recorded twice.
	Source      string
	Date        domain.Date
	Description string
	Postings    []Posting
	Time        time.Time
}

// Check compares debits with credits. Errors: *domain.TotalError.
func (e *Entry) Check() error {
	var sum quantity.Money
	for _, p := range e.Postings {
		sum += p.Amount
	}
	if sum != 0 {
		return &domain.TotalError{What: "the journal entry of " + e.Source, Want: 0, Got: sum}
	}
	return nil
}

// add keeps the entry short: one posting for each account, none of nothing.
func (e *Entry) add(account string, amount quantity.Money) {
	for i := range e.Postings {
		if e.Postings[i].Account == account {
			e.Postings[i].Amount += amount
			return
		}
	}
	e.Postings = append(e.Postings, Posting{account, amount})
}

// MemberAccount is where what one member is owed stands.
func MemberAccount(member string) string { return "liabilities:" + accountOf(member) }

// accountOf turns a resource name into account parts: "members/M-0001" is "members:M-0001".
func accountOf(name string) string { return strings.ReplaceAll(name, "/", ":") }

func honey(cropYear int) string    { return fmt.Sprintf("expenses:honey:%d", cropYear) }
func proceeds(cropYear int) string { return fmt.Sprintf("income:proceeds:%d", cropYear) }
func costs(cropYear int) string    { return fmt.Sprintf("expenses:costs:%d", cropYear) }
func residual(cropYear int) string { return fmt.Sprintf("equity:residual:%d", cropYear) }

// Bank is the account money leaves from.
const Bank = "assets:bank"

// Counterparts of a pool's sales and costs, which the cooperative's other books carry on.
const (
	buyers    = "assets:buyers"
	suppliers = "liabilities:suppliers"
	// carriedOver is at nothing: what one pool sells to another the other buys.
	carriedOver = "assets:carried-over"
)

// ForPayout records what a member was credited: the honey is the pool's cost, charges are income, retains are the member's
// own capital, and the rest is owed.
func ForPayout(p *domain.Payout, date domain.Date) *Entry {
	e := &Entry{Source: p.Name(), Date: date, Time: p.Time, Description: describe(p)}
	for _, l := range p.Lines {
		switch l.Kind {
		case domain.LineCharge:
			e.add("income:charges:"+l.Code, l.Amount)
		case domain.LineRetain:
			e.add(retains(p.Barrel.CropYear, p.Barrel.Member), l.Amount)
		default:
			e.add(honey(p.Barrel.CropYear), l.Amount)
		}
	}
	e.add(MemberAccount(p.Barrel.Member), -p.Net)
	return e
}

func retains(cropYear int, member string) string {
	return fmt.Sprintf("equity:retains:%d:%s", cropYear, accountOf(member))
}

// ForRedemption turns members' capital into what they are owed, an entry for each.
func ForRedemption(r *domain.Redemption, date domain.Date) []*Entry {
	entries := make([]*Entry, 0, len(r.Parts))
	for _, p := range r.Parts {
		e := &Entry{Source: p.Name(), Date: date, Time: r.Time, Description: fmt.Sprintf("Equity of %d given back by %s", r.CropYear, r.Resolution)}
		account := retains(r.CropYear, p.Member)
		if !p.Class.Retained() {
			account = patronage(r.CropYear, p.Member)
		}
		e.add(account, p.Amount)
		e.add(MemberAccount(p.Member), -p.Amount)
		entries = append(entries, e)
	}
	return entries
}

// ForEquityCorrection turns back what was given back too much, or gives it back again.
func ForEquityCorrection(c domain.EquityCorrection, date domain.Date) *Entry {
	e := &Entry{Source: c.Name(), Date: date, Time: c.Time, Description: fmt.Sprintf("Equity of %d corrected with the honey it was kept for", c.CropYear)}
	e.add(retains(c.CropYear, c.Member), c.Amount)
	e.add(MemberAccount(c.Member), -c.Amount)
	return e
}

func describe(p *domain.Payout) string {
	what := map[domain.Kind]string{domain.Advance: "Advance", domain.Reversal: "Reversal", domain.Final: "Final", domain.Fee: "Fee", domain.Progress: "Progress payment"}[p.Kind]
	return fmt.Sprintf("%s, barrel %s, ticket %s", what, p.Barrel.DrumTag, p.Barrel.TicketNumber)
}

// ForPoolEntry records a sale or a cost of a pool.
func ForPoolEntry(e *pool.Record, cropYear int) *Entry {
	out := &Entry{Source: e.Name(), Date: e.Date, Time: e.RecordTime, Description: e.Description + " (" + e.Document + ")"}
	from, to := buyers, suppliers
	if e.Counter != (uuid.UUID{}) {
		from, to = carriedOver, carriedOver // no money moves: it is the cooperative's own honey
	}
	if e.Kind == pool.Proceeds {
		out.add(from, e.Amount)
		out.add(proceeds(cropYear), -e.Amount)
		return out
	}
	out.add(costs(cropYear), e.Amount)
	out.add(to, -e.Amount)
	return out
}

// ForPayment records money that left for a member or on its account, or came back.
func ForPayment(i *payment.Item, number string) *Entry {
	what := "Payment"
	if i.Amount < 0 {
		what = "Returned payment"
	}
	e := &Entry{Source: i.Name(), Date: i.Date, Time: i.Time, Description: fmt.Sprintf("%s %s to %s", what, number, i.To)}
	e.add(MemberAccount(i.Member), i.Amount)
	e.add(Bank, -i.Amount)
	return e
}

// ForClosing takes a closed pool off the year's accounts; what is left over stays in the open as the residual.
func ForClosing(r *pool.Run, p *pool.Account, result *pool.Summary, date domain.Date) *Entry {
	e := &Entry{Source: r.Name(), Date: date, Time: *r.ReleaseTime, Description: fmt.Sprintf("Closing of pool %s by run %s", p.Title, r.Number)}
	e.add(proceeds(p.CropYear), p.Proceeds)
	e.add(costs(p.CropYear), -p.Expenses)
	e.add(honey(p.CropYear), -result.ToMembers)
	e.add(residual(p.CropYear), -result.Residual)
	return e
}

// Balance is what an account comes to.
type Balance struct {
	Account string
	Amount  quantity.Money
}

// Trial sums balances. Errors: *domain.TotalError where they do not sum to nothing.
func Trial(balances []Balance) (debits, credits quantity.Money, err error) {
	for _, b := range balances {
		if b.Amount > 0 {
			debits += b.Amount
		} else {
			credits -= b.Amount
		}
	}
	if debits != credits {
		err = &domain.TotalError{What: "the credits of the journal", Want: debits, Got: credits}
	}
	return debits, credits, err
}

// Text writes an entry in plain-text accounting: date, source and description, then one account a line.
func (e *Entry) Text(currency string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s (%s) %s\n", e.Date, e.Source, plain(e.Description))
	widest := slices.MaxFunc(e.Postings, func(x, y Posting) int { return cmp.Compare(len(x.Account), len(y.Account)) })
	for _, p := range e.Postings {
		fmt.Fprintf(&b, "    %-*s  %s %s\n", len(widest.Account), p.Account, p.Amount, currency)
	}
	b.WriteByte('\n')
	return b.String()
}

// plain keeps a description on its line: a line break ends it, a semicolon begins a comment, and a bar divides a payee.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		switch r {
		case '\n', '\r', '\t':
			return ' '
		case ';', '|':
			return ','
		}
		return r
	}, s)
}

// Reconcile compares the members' accounts with what they are owed by payouts and payments. Errors: *domain.TotalError.
func Reconcile(balances []Balance, owed map[string]quantity.Money) error {
	booked := map[string]quantity.Money{}
	for _, b := range balances {
		booked[b.Account] = -b.Amount
	}
	members := make([]string, 0, len(owed))
	for m := range owed {
		members = append(members, m)
	}
	slices.Sort(members)
	for _, m := range members {
		if got := booked[MemberAccount(m)]; got != owed[m] {
			return &domain.TotalError{What: "the account of " + m, Want: owed[m], Got: got}
		}
		delete(booked, MemberAccount(m))
	}
	for account, amount := range booked {
		if strings.HasPrefix(account, MemberAccount("members/")) {
			return &domain.TotalError{What: "the account " + account, Want: 0, Got: amount}
		}
	}
	return nil
}
