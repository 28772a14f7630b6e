package payment

import (
	"fmt"
	"slices"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// Owed is a member with what it is owed and all that bears on paying it.
type Owed struct {
	Claim

	// Accounts are the newest account of each payee.
	Accounts map[string]*Account
}

// Propose lists the payments of a date. A member is paid in full or not at all, so that no creditor is passed over.
func Propose(owed []Owed, minimum quantity.Money, on domain.Date, terms domain.Terms) (*List, error) {
	l := &List{}
	for _, o := range owed {
		items, deductions, reason, err := o.items(minimum, on, terms)
		if err != nil {
			return nil, err
		}
		if reason != "" {
			l.Blocked = append(l.Blocked, Blocked{Member: o.Member, Amount: o.Balance, Reason: reason})
			continue
		}
		l.Items, l.Deductions = append(l.Items, items...), append(l.Deductions, deductions...)
	}
	return l, nil
}

func (o Owed) items(minimum quantity.Money, on domain.Date, terms domain.Terms) ([]Item, []Deduction, string, error) {
	switch {
	case o.Balance < 0:
		return nil, nil, fmt.Sprintf("%s is owed to the cooperative; it is carried forward", terms.Money(-o.Balance)), nil
	case o.Balance < minimum || o.Balance == 0:
		return nil, nil, fmt.Sprintf("below the minimum of %s; it is paid with a later batch", terms.Money(minimum)), nil
	}
	shares, err := o.Split(on, terms)
	if shares.Blocked != "" || err != nil {
		return nil, nil, shares.Blocked, err
	}
	items := make([]Item, 0, len(shares.Parts))
	var sum quantity.Money
	for _, p := range shares.Parts {
		account := o.Accounts[p.Payee]
		if account == nil {
			return nil, nil, "waiting for a verified bank account of " + p.To, nil
		}
		if why := account.unusable(on); why != "" {
			return nil, nil, why, nil
		}
		sum += p.Amount
		items = append(items, Item{
			Member: o.Member, Payee: p.Payee, To: account.Holder, Account: account.ID, Ending: account.Ending(), Amount: p.Amount, Explanation: p.Explanation,
		})
	}
	for _, d := range shares.Deductions {
		sum += d.Interest + d.Principal
	}
	if sum != o.Balance {
		return nil, nil, "", &domain.TotalError{What: "the payments of " + o.Member, Want: o.Balance, Got: sum}
	}
	return items, shares.Deductions, "", nil
}

// Changed is why a member of a prepared batch is left out at release.
const Changed = "what is owed, or to whom, has changed since this batch was prepared; prepare another"

// Own is why a releaser's own balance is left out.
const Own = "nobody releases money to themselves; another person must release it with a batch of its own"

// Confirm compares what was prepared with what would be prepared now: members of whom both say the same are paid, the others
// alone are left out, and so is the member who releases, if it is one.
func Confirm(prepared, now *List, releaser string) *List {
	then, today := prepared.byMember(), now.byMember()
	why := map[string]string{}
	for _, b := range now.Blocked {
		why[b.Member] = b.Reason
	}
	out := &List{Blocked: slices.Clone(prepared.Blocked)}
	for _, member := range prepared.Members() {
		if member != releaser && then[member].same(today[member]) {
			out.Items, out.Deductions = append(out.Items, then[member].Items...), append(out.Deductions, then[member].Deductions...)
			continue
		}
		reason := Changed
		switch {
		case member == releaser:
			reason = Own
		case why[member] != "":
			reason = why[member]
		}
		out.Blocked = append(out.Blocked, Blocked{Member: member, Amount: then[member].all(), Reason: reason})
	}
	return out
}

// Members of a list, each once, in its order; those of whom all goes to loans come last.
func (l *List) Members() []string {
	var out []string
	seen := map[string]bool{}
	add := func(m string) {
		if !seen[m] {
			seen[m], out = true, append(out, m)
		}
	}
	for _, i := range l.Items {
		add(i.Member)
	}
	for _, d := range l.Deductions {
		add(d.Member)
	}
	return out
}

func (l *List) byMember() map[string]*List {
	out := map[string]*List{}
	for _, m := range l.Members() {
		out[m] = &List{}
	}
	for _, i := range l.Items {
		out[i.Member].Items = append(out[i.Member].Items, i)
	}
	for _, d := range l.Deductions {
		out[d.Member].Deductions = append(out[d.Member].Deductions, d)
	}
	return out
}

// same compares the lists of one member; nil is a member who is not paid.
func (l *List) same(other *List) bool {
	return other != nil && slices.Equal(l.Items, other.Items) && slices.Equal(l.Deductions, other.Deductions)
}

// all is what the list takes from the balance.
func (l *List) all() quantity.Money {
	sum := l.Total()
	for _, d := range l.Deductions {
		sum += d.Interest + d.Principal
	}
	return sum
}
