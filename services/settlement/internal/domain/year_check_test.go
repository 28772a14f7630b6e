package domain_test

import (
	"bytes"
	"cmp"
	"maps"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/ledger"
	"barrelhead.example/services/settlement/internal/domain/loan"
	"barrelhead.example/services/settlement/internal/domain/payment"
)

// tally counts what the years had in them, so that a drawing that stops drawing something is noticed.
type tally struct {
	closed, refused, shared, repriced, forfeited, corrected, unpooled, overAdvanced, receivable, carried int
	interest, principal, partly, limited                                                                 int
	rights                                                                                               [payment.Heir + 1]int
	ofYear, progressed, progressAgain, progressLeft, progressTooMuch                                     int
}

func (s *tally) mustBeMany(t *testing.T) {
	t.Logf("%+v", *s)
	for what, n := range map[string]int{
		"pools closed": s.closed / 8, "pools refused": s.refused * 10, "shared barrels": s.shared, "paid advances taken back and priced anew": s.repriced,
		"paid advances taken back for good": s.forfeited, "finals priced anew": s.corrected, "finals taken back for another pool": s.unpooled * 10,
		"members advanced too much": s.overAdvanced, "receivables": s.receivable, "balances carried over": s.carried, "payments of interest": s.interest,
		"payments of principal": s.principal, "payments of only a part of the interest": s.partly * 10, "rights at their limit": s.limited, "heirs paid": s.rights[payment.Heir],
		"withholdings": s.rights[payment.Withholding], "levies": s.rights[payment.Levy], "rights in one crop year": s.ofYear,
		"finals after part-payments": s.progressed, "part-payments of barrels priced later": s.progressAgain, "part-payments of a pool that stays open": s.progressLeft * 10,
		"part-payments above the pool's price": s.progressTooMuch,
		"liens":                                s.rights[payment.Lien],
		"assignments":                          s.rights[payment.Assignment], "joint payees": s.rights[payment.JointPayee],
	} {
		require.Greater(t, n, manyYears/together/10, what)
	}
}

// checker adds a lived year up again by hand, from what was drawn and what came out.
type checker struct {
	*office
	*tally

	// drawn is the year as it was before it was lived.
	drawn *year
}

func (c *checker) all() {
	c.drawing()
	c.closedPool()
	c.partPayments()
	for _, f := range c.fillings {
		c.barrel(f)
	}
	c.payments()
	c.memberSums()
	balances := make([]ledger.Balance, 0, len(c.journal))
	for account, amount := range c.journal {
		balances = append(balances, ledger.Balance{Account: account, Amount: amount})
	}
	_, _, err := ledger.Trial(balances)
	require.NoError(c, err)
	require.NoError(c, ledger.Reconcile(balances, c.owed))
}

// drawing holds what was drawn to what the services would let in.
func (c *checker) drawing() {
	for _, m := range c.drawn.members {
		for _, l := range c.drawn.loans[m] {
			require.Empty(c, l.Validate())
		}
		for _, e := range c.drawn.notices[m] {
			require.Empty(c, e.Validate())
		}
	}
}

// closedPool: lines = member, members = pool, pool = proceeds − expenses − residual, by the run and by what was credited.
func (c *checker) closedPool() {
	if c.closing == nil {
		c.refused++
		require.Empty(c, c.atClosing)
		return
	}
	c.closed++
	lines, credited := map[string]quantity.Money{}, map[string]quantity.Money{}
	for _, l := range c.closing.Lines {
		require.Equal(c, l.Value, c.atClosing[l.Barrel][l.Member])
		lines[l.Member] += l.Value
	}
	for _, of := range c.atClosing {
		for m, amount := range of {
			credited[m] += amount
		}
	}
	var members quantity.Money
	for _, m := range c.closing.Members {
		require.Equal(c, lines[m.Member], m.Value)
		require.Equal(c, credited[m.Member], m.Value)
		require.Equal(c, m.Value-m.Credited, m.Due-m.Receivable)
		require.True(c, m.Due >= 0 && m.Receivable >= 0 && (m.Due == 0 || m.Receivable == 0))
		members += m.Value
		c.overAdvanced += one(m.Receivable > 0)
	}
	require.Len(c, lines, len(c.closing.Members))
	require.Equal(c, c.closing.ToMembers, members)
	require.Equal(c, c.drawn.pool.Proceeds-c.drawn.pool.Expenses-c.closing.Residual, members)
	require.GreaterOrEqual(c, c.closing.Residual, quantity.Money(0))
}

// partPayments: each is rate × weight, rounded once for the whole barrel, whoever its owners are.
func (c *checker) partPayments() {
	type key struct {
		progress, barrel, certificate, ticket uuid.UUID
		weighing                              string
	}
	amounts, weights := map[key]quantity.Money{}, map[key]quantity.Mass{}
	for _, p := range c.payouts {
		if p.Kind == domain.Progress {
			k := key{p.Progress, p.Barrel.Barrel, p.Certificate, p.Barrel.Ticket, p.Barrel.Weighing}
			amounts[k], weights[k] = amounts[k]+p.Gross, weights[k]+p.Payable
		}
	}
	for k, amount := range amounts {
		require.Equal(c, c.partPayment(k.progress, weights[k]), amount, "part-payment on barrel %s", k.barrel)
	}
}

func (c *checker) partPayment(id uuid.UUID, payable quantity.Mass) quantity.Money {
	for _, g := range c.drawn.progress {
		if g.ID == id {
			return quantity.Money(halfUp(int64(g.Rate)*int64(payable), 10_000_000))
		}
	}
	c.t.Fatalf("part-payment %s was never drawn", id)
	return 0
}

// barrel: whatever was taken back on the way, in the end its owners have what the facts of the end are worth, and nobody else
// has a cent of it.
func (c *checker) barrel(f *filling) {
	end, stands := f[afterClosing], c.stands[f.id()]
	gross, net, rightful := map[string]quantity.Money{}, map[string]quantity.Money{}, map[string]quantity.Money{}
	var sum quantity.Money
	reversals := 0
	for _, p := range c.payouts {
		if p.Barrel.Barrel == f.id() {
			gross[p.Barrel.Member], net[p.Barrel.Member] = gross[p.Barrel.Member]+p.Gross, net[p.Barrel.Member]+p.Net
			sum += p.Gross
			reversals += one(p.Kind == domain.Reversal && c.payouts[p.Reverses].Time.Equal(noon) && c.paidFirst(p.Barrel.Member))
		}
	}
	for _, p := range stands.all() {
		rightful[p.Barrel.Member] += p.Net
	}
	for m, amount := range net {
		require.Equal(c, rightful[m], amount, "what stands for %s of barrel %s", m, f.id())
	}
	c.shared += one(len(end.Barrel.Owners) > 0)
	if !end.Counts || len(stands.advances) == 0 {
		require.Empty(c, stands.advances)
		require.Zero(c, sum)
		c.forfeited += one(reversals > 0)
		return
	}
	pooled := c.atClosing[f.id()] != nil && slices.Contains(pooled, end.Certificate.ColorClass)
	require.Equal(c, pooled, len(stands.finals) > 0, "the final of barrel %s", f.id())
	c.repriced += one(reversals > 0)
	c.corrected += one(reversals > 0 && len(stands.finals) > 0)
	c.unpooled += one(c.atClosing[f.id()] != nil && len(stands.finals) == 0)
	require.Equal(c, c.worth(end, pooled)+c.beside(stands), sum, "barrel %s", f.id())
	c.owners(end, stands, gross, sum)
}

// beside is what part-payments add to the worth of a barrel: nothing where it has a final, which takes them off. Each there was
// stands for each barrel of a pool that is still open, and for none priced after the closing.
func (c *checker) beside(s *stake) (sum quantity.Money) {
	var payable quantity.Mass
	for _, p := range s.advances {
		payable += p.Payable
	}
	for _, g := range c.drawn.progress {
		if c.closing == nil {
			sum += c.partPayment(g.ID, payable)
		}
	}
	for _, p := range s.progress {
		c.progressAgain += one(!p.Time.Equal(noon.AddDate(0, 1, 0)) && !p.Time.Equal(noon.AddDate(0, 3, 0)))
	}
	c.progressLeft += one(sum > 0)
	if len(s.finals) > 0 && len(s.progress) > 0 {
		c.progressed++
		c.progressTooMuch += one(s.finals[0].Gross < 0)
		require.Len(c, s.progress, len(c.drawn.progress)*len(s.advances))
	}
	return sum
}

// owners: what a barrel earned is with those who own it by the ticket of the end, each within the odd cent of its share.
func (c *checker) owners(end domain.Situation, stands *stake, gross map[string]quantity.Money, sum quantity.Money) {
	owners, advances := end.Barrel.Owners, stands.advances
	// A final brings all before it to the owner's share of the value; without one each part-payment has an odd cent of its own.
	parts := int64(1)
	if len(stands.finals) == 0 {
		parts += int64(len(stands.progress) / len(advances))
	}
	if len(owners) == 0 {
		owners = []domain.Owner{{Member: end.Barrel.Member, Share: domain.WholeShare}}
	}
	require.Len(c, advances, len(owners))
	for i, o := range owners {
		require.Equal(c, o.Member, advances[i].Barrel.Member)
		require.Equal(c, []uuid.UUID{end.Barrel.Ticket, end.Certificate.ID}, []uuid.UUID{advances[i].Barrel.Ticket, advances[i].Certificate})
		off := int64(gross[o.Member])*domain.WholeShare - int64(sum)*o.Share
		require.Less(c, max(off, -off), parts*domain.WholeShare, "%s of barrel %s", o.Member, end.Barrel.Barrel)
		gross[o.Member] = 0
	}
	for m, amount := range gross {
		require.Zero(c, amount, "%s owns nothing of barrel %s", m, end.Barrel.Barrel)
	}
}

// paidFirst is whether the first batch paid a member: the advances of then have left the bank or went to loans.
func (c *checker) paidFirst(member string) bool {
	first := c.batches[0]
	return first.owed[member] > 0 && !slices.ContainsFunc(first.list.Blocked, func(b payment.Blocked) bool { return b.Member == member })
}

// worth is weight × price, each rounded once and half up, less the step for water.
func (c *checker) worth(s domain.Situation, final bool) quantity.Money {
	net, water, base := int64(s.Barrel.Net), int64(s.Certificate.Water), int64(c.schedule.Moisture.Base)
	payable, tenths := net, int64(0)
	if water > base {
		payable, tenths = halfUp(net*(10_000-water), (10_000-base)*100)*100, (water-base+9)/10
	}
	var price quantity.Price
	for _, r := range c.schedule.Rows {
		if r.ColorClass == s.Certificate.ColorClass {
			price = r.Advance
		}
	}
	if final {
		for _, r := range c.closing.Classes {
			if r.ColorClass == s.Certificate.ColorClass {
				price = r.Price
			}
		}
	}
	step := halfUp(int64(c.schedule.Moisture.Step)*tenths*payable, 10_000_000)
	return quantity.Money(halfUp(int64(price)*payable, 10_000_000) - step)
}

func halfUp(a, by int64) int64 { return (2*a + by) / (2 * by) }

func one(is bool) int {
	if is {
		return 1
	}
	return 0
}

// cut is what one right takes of a balance.
type cut struct {
	name   string
	amount quantity.Money
}

// debt is a loan kept by hand: principal × rate × days is summed exactly and rounded where it is read.
type debt struct {
	*loan.Loan

	sum             int64
	last            domain.Date
	principal, paid quantity.Money
}

func newDebt(l *loan.Loan) *debt {
	d := &debt{Loan: l, last: l.Start}
	for _, e := range l.Entries {
		d.to(e.Date)
		if d.principal += e.Principal; e.Kind == loan.Paid {
			d.paid -= e.Interest
		}
	}
	return d
}

// to is the interest due on a day.
func (d *debt) to(on domain.Date) quantity.Money {
	a, _ := time.Parse(time.DateOnly, string(d.last))
	b, _ := time.Parse(time.DateOnly, string(on))
	d.sum, d.last = d.sum+int64(d.principal)*int64(d.Rate)*int64(b.Sub(a)/(24*time.Hour)), on
	return quantity.Money(halfUp(d.sum, 10_000*d.DayCount.Days())) - d.paid
}

// payments divides every balance of both paydays by hand and expects the batches to have paid just that.
func (c *checker) payments() {
	debts, taken := map[string][]*debt{}, map[string]quantity.Money{}
	for _, m := range c.drawn.members {
		for _, l := range c.drawn.loans[m] {
			debts[m] = append(debts[m], newDebt(l))
		}
	}
	for _, day := range c.batches {
		items, deductions, blocked := map[string][]cut{}, map[string][]cut{}, map[string]quantity.Money{}
		for _, i := range day.list.Items {
			require.Positive(c, i.Amount)
			items[i.Member] = append(items[i.Member], cut{i.Payee, i.Amount})
		}
		for _, d := range day.list.Deductions {
			require.True(c, d.Interest >= 0 && d.Principal >= 0)
			deductions[d.Member] = append(deductions[d.Member], cut{d.Loan + " interest", d.Interest}, cut{d.Loan + " principal", d.Principal})
		}
		for _, b := range day.list.Blocked {
			require.Zero(c, blocked[b.Member])
			blocked[b.Member] = b.Amount
		}
		for _, m := range c.drawn.members {
			balance := day.owed[m]
			d := c.divide(m, balance, day.on, debts[m], taken)
			if balance == 0 || c.blocked(m, balance, day.on) || c.unbanked(d.toOthers, day.on) {
				require.Equal(c, balance, blocked[m])
				require.Empty(c, items[m])
				require.Empty(c, deductions[m])
				continue
			}
			require.Zero(c, blocked[m])
			require.Equal(c, d.toOthers, items[m], "%s on %s", m, day.on)
			require.Equal(c, d.toLoans, deductions[m], "%s on %s", m, day.on)
			for _, x := range d.toOthers {
				taken[x.name] += x.amount
			}
			for i, x := range d.taken {
				debts[m][i].paid, debts[m][i].principal = debts[m][i].paid+x[0], debts[m][i].principal-x[1]
			}
		}
	}
	for _, e := range slices.Concat(slices.Collect(maps.Values(c.drawn.notices))...) {
		require.True(c, e.Limit == 0 || taken[e.Name()] <= e.Limit, "%s took more than is owed to it", e.Name())
		c.limited += one(e.Limit > 0 && taken[e.Name()] == e.Limit)
		c.ofYear += one(e.CropYear != 0 && taken[e.Name()] > 0)
	}
	for m, of := range debts {
		for i, d := range of {
			interest := d.to("2027-12-31")
			require.True(c, d.principal >= 0 && interest >= 0, "loan %s took more than is owed to it", d.Name())
			due, err := c.loans[m][i].On("2027-12-31")
			require.NoError(c, err)
			require.Equal(c, []quantity.Money{d.principal, interest}, []quantity.Money{due.Principal, due.Interest})
		}
	}
}

func counts(e *payment.Encumbrance, on domain.Date) bool {
	return e.Ender == "" && e.CropYear != 2025 && (e.Expires == "" || e.Expires >= on) && (e.Kind != payment.Heir || e.Received <= on)
}

// blocked is whether nothing of a balance may be paid, whatever accounts there are.
func (c *checker) blocked(member string, balance quantity.Money, on domain.Date) bool {
	if balance <= 0 || balance < c.drawn.minimum {
		return true
	}
	var heirs quantity.Percent
	for _, e := range c.drawn.notices[member] {
		if !counts(e, on) {
			continue
		}
		if e.Unresolved {
			return true
		}
		if e.Kind == payment.Heir {
			heirs += e.Percent
		}
	}
	return heirs != 0 && heirs != 100_00
}

// unbanked is whether one of the payees has no account that money may go to.
func (c *checker) unbanked(to []cut, on domain.Date) bool {
	return slices.ContainsFunc(to, func(x cut) bool {
		a := c.drawn.accounts[x.name]
		return a == nil || a.Verifier == "" || on < a.UsableFrom
	})
}

// divided is a balance by hand. taken are interest and principal of each loan.
type divided struct {
	toOthers, toLoans []cut
	taken             [][2]quantity.Money
	left              quantity.Money
}

// divide gives a balance to everybody in turn: withholding and levies, loans, liens, assignments, joint payees, and the rest
// to the member or its heirs. A share is of the whole balance, and never more than is owed or left.
func (c *checker) divide(member string, balance quantity.Money, on domain.Date, debts []*debt, taken map[string]quantity.Money) *divided {
	d := &divided{left: max(balance, 0)}
	share := func(p quantity.Percent, most quantity.Money) quantity.Money {
		amount := min(quantity.Money(halfUp(int64(max(balance, 0))*int64(p), 100_00)), most, d.left)
		d.left -= amount
		return amount
	}
	due := slices.DeleteFunc(slices.Clone(c.drawn.notices[member]), func(e *payment.Encumbrance) bool { return !counts(e, on) })
	slices.SortFunc(due, func(a, b *payment.Encumbrance) int {
		return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Received, b.Received), bytes.Compare(a.ID[:], b.ID[:]))
	})
	notices := func(from, to payment.EncumbranceKind) {
		for _, e := range due {
			if e.Kind < from || e.Kind > to {
				continue
			}
			most := balance
			if e.Limit > 0 {
				most = e.Limit - taken[e.Name()]
			}
			if amount := share(e.Percent, most); amount > 0 {
				d.toOthers = append(d.toOthers, cut{e.Name(), amount})
			}
		}
	}
	notices(payment.Withholding, payment.Levy)
	for _, l := range debts {
		interest := l.to(on)
		amount := share(l.Deduction, interest+l.principal)
		first := min(amount, interest)
		if amount > 0 {
			d.toLoans = append(d.toLoans, cut{l.Name() + " interest", first}, cut{l.Name() + " principal", amount - first})
		}
		d.taken = append(d.taken, [2]quantity.Money{first, amount - first})
	}
	notices(payment.Lien, payment.JointPayee)
	d.rest(member, slices.DeleteFunc(due, func(e *payment.Encumbrance) bool { return e.Kind != payment.Heir }))
	return d
}

// rest divides an estate by largest remainder; the cents left over go to the earlier of two equals.
func (d *divided) rest(member string, heirs []*payment.Encumbrance) {
	if len(heirs) == 0 {
		if d.left > 0 {
			d.toOthers = append(d.toOthers, cut{member, d.left})
		}
		return
	}
	var parts []cut
	var order []int
	over := d.left
	for i, e := range heirs {
		part := d.left * quantity.Money(e.Percent) / 100_00
		parts, order, over = append(parts, cut{e.Name(), part}), append(order, i), over-part
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Compare(int64(d.left)*int64(heirs[b].Percent)%100_00, int64(d.left)*int64(heirs[a].Percent)%100_00)
	})
	for _, i := range order[:min(int(over), len(order))] {
		parts[i].amount++
	}
	d.toOthers = append(d.toOthers, slices.DeleteFunc(parts, func(x cut) bool { return x.amount == 0 })...)
}

// memberSums: gross = deductions by kind + paid out + carried over − receivable, from the lines of the payouts and the lists
// of the batches alone.
func (c *checker) memberSums() {
	gross, paid, carried := map[string]quantity.Money{}, map[string]quantity.Money{}, map[string]quantity.Money{}
	kinds := map[string]map[string]quantity.Money{}
	for _, m := range c.drawn.members {
		kinds[m] = map[string]quantity.Money{}
	}
	for _, p := range c.payouts {
		for _, l := range p.Lines {
			switch l.Kind {
			case domain.LineCharge, domain.LineRetain:
				kinds[p.Barrel.Member][l.Code] -= l.Amount
			default:
				gross[p.Barrel.Member] += l.Amount
			}
		}
	}
	right := map[string]payment.EncumbranceKind{}
	for _, e := range slices.Concat(slices.Collect(maps.Values(c.drawn.notices))...) {
		right[e.Name()] = e.Kind
	}
	for _, day := range c.batches {
		for _, i := range day.list.Items {
			kind := right[i.Payee]
			c.rights[kind]++
			if kind == 0 || kind == payment.Heir {
				paid[i.Member] += i.Amount
				continue
			}
			kinds[i.Member][kind.Words()] += i.Amount
		}
		for _, d := range day.list.Deductions {
			kinds[d.Member]["interest"] += d.Interest
			kinds[d.Member]["principal"] += d.Principal
			c.interest, c.principal, c.partly = c.interest+one(d.Interest > 0), c.principal+one(d.Principal > 0), c.partly+one(d.Interest > 0 && d.Principal == 0)
		}
	}
	for _, b := range c.batches[len(c.batches)-1].list.Blocked {
		carried[b.Member] = b.Amount
		c.carried, c.receivable = c.carried+one(b.Amount > 0), c.receivable+one(b.Amount < 0)
	}
	for m, of := range kinds {
		sum := paid[m] + max(carried[m], 0) - max(-carried[m], 0)
		for kind, amount := range of {
			require.GreaterOrEqual(c, amount, quantity.Money(0), "%s of %s", kind, m)
			sum += amount
		}
		require.Equal(c, gross[m], sum, m)
	}
}
