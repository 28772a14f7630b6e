package domain_test

import (
	"cmp"
	"fmt"
	"maps"
	"reflect"
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
	"barrelhead.example/services/settlement/internal/domain/pool"
)

const (
	manyYears = 10_000
	// together is how many parts of them are lived at once.
	together = 4
)

// Ten thousand years from the first ticket to the last payment, each with loans, levies, liens, assignments, joint payees and
// heirs, with part-payments before the closing, and with barrels whose paid advance was taken back, to be priced anew or not at
// all, before and after the closing.
// Whatever order facts come in, the year is the same, to the last word of an explanation.
func TestTenThousandYearsAddUpToTheCent(t *testing.T) {
	t.Parallel()
	for part := range uint64(together) {
		t.Run(fmt.Sprintf("part %d", part), func(t *testing.T) {
			t.Parallel()
			var seen tally
			seed := part
			t.Cleanup(func() {
				if t.Failed() {
					t.Logf("the seed is %d", seed)
				}
			})
			for ; seed < manyYears; seed += together {
				addsUp(t, seed, &seen)
			}
			seen.mustBeMany(t)
		})
	}
}

func addsUp(t *testing.T, seed uint64, seen *tally) {
	o, other := live(t, draw(seed), true), draw(seed)
	other.shuffle(seed)
	mustBeSame(t, o, live(t, other, false))
	if seed%20 == 0 { // another order is a repeat too
		mustBeSame(t, o, live(t, draw(seed), false))
	}
	c := checker{office: o, tally: seen, drawn: draw(seed)}
	c.all()
}

// made is everything a year comes to. Its lists are by member: whom a batch pays first means nothing.
type made struct {
	payouts     map[uuid.UUID]*domain.Payout
	closing     *pool.Result
	fingerprint string
	// refused is why the pool could not be closed.
	refused string
	// atClosing is what the members were credited for each barrel of the pool.
	atClosing map[uuid.UUID]map[string]quantity.Money
	batches   []payday
	lent      map[string][]loan.Entry
	owed      map[string]quantity.Money
	journal   map[string]quantity.Money
}

// mustBeSame compares all that two lives of a year came to.
func mustBeSame(t *testing.T, a, b *office) {
	for _, x := range []struct {
		what string
		a, b any
	}{
		{"payouts", a.payouts, b.payouts},
		{"closing", a.closing, b.closing},
		{"fingerprint", a.fingerprint, b.fingerprint},
		{"refusal", a.refused, b.refused},
		{"credits at the closing", a.atClosing, b.atClosing},
		{"batches", a.batches, b.batches},
		{"loans", a.lent, b.lent},
		{"balances", a.owed, b.owed},
		{"journal", a.journal, b.journal},
	} {
		if !reflect.DeepEqual(x.a, x.b) {
			t.Fatalf("the %s of the same year differ:\n%+v\n%+v", x.what, x.a, x.b)
		}
	}
}

// payday is a released batch, and what each member was owed before it.
type payday struct {
	on   domain.Date
	owed map[string]quantity.Money
	list *payment.List
}

// stake is what a barrel has that was not taken back.
type stake struct{ advances, finals, progress []*domain.Payout }

// all that stands, in the order it is taken back.
func (s *stake) all() []*domain.Payout { return slices.Concat(s.finals, s.progress, s.advances) }

// progressed is what part-payments have credited a member beside its advance.
func (s *stake) progressed(member string) (sum quantity.Money) {
	for _, p := range s.progress {
		if p.Barrel.Member == member {
			sum += p.Gross
		}
	}
	return sum
}

// quiet is a test without Helper, which looks up its caller each of the many million times something is required.
type quiet struct{ t *testing.T }

func (q quiet) Errorf(format string, args ...any) { q.t.Errorf(format, args...) }

func (q quiet) FailNow() { q.t.FailNow() }

// office lives through a year with the rules alone: what the services keep in tables stands in maps.
type office struct {
	quiet
	*year
	made

	// twice is whether every decision is made a second time, which must change nothing.
	twice  bool
	pricer *domain.Pricer
	stands map[uuid.UUID]*stake
}

func live(t *testing.T, y *year, twice bool) *office {
	o := &office{quiet: quiet{t}, year: y, twice: twice, stands: map[uuid.UUID]*stake{}, made: made{
		payouts: map[uuid.UUID]*domain.Payout{}, lent: map[string][]loan.Entry{}, owed: map[string]quantity.Money{}, journal: map[string]quantity.Money{},
		atClosing: map[uuid.UUID]map[string]quantity.Money{},
	}}
	o.price(nil)
	for _, f := range y.fillings {
		o.stands[f.id()] = &stake{}
	}
	for _, m := range y.members {
		for _, l := range y.loans[m] {
			for i := range l.Entries {
				o.book(ledger.ForLoan(l, &l.Entries[i], nil))
			}
		}
	}
	for _, e := range y.entries {
		o.book(ledger.ForPoolEntry(e, y.pool.CropYear))
	}
	o.settle(delivered, noon)
	o.pay(y.paydays[0])
	o.adopt(0, noon.AddDate(0, 1, 0))
	o.settle(beforeClosing, noon.AddDate(0, 2, 0))
	o.adopt(1, noon.AddDate(0, 3, 0))
	o.close(noon.AddDate(0, 4, 0))
	o.settle(afterClosing, noon.AddDate(0, 5, 0))
	o.pay(y.paydays[1])
	for _, m := range y.members {
		for _, l := range y.loans[m] {
			o.lent[l.Name()] = l.Entries
		}
	}
	return o
}

func (o *office) price(closed []*domain.ClosedPool) {
	var open []*domain.ProgressPayment
	for _, g := range o.progress {
		if g.Paid() && closed == nil {
			open = append(open, g)
		}
	}
	o.pricer = domain.NewPricer([]*domain.Schedule{o.schedule}, closed, domain.DefaultHoldPolicy(), pounds).WithProgress(open)
}

// adopt makes a part-payment on whatever stands, and on what is priced as long as the pool is open.
func (o *office) adopt(n int, at time.Time) {
	if n >= len(o.progress) {
		return
	}
	g := o.progress[n]
	require.NoError(o, g.Adopt("Board no. 7", "users/board2", false, at))
	for _, f := range o.fillings {
		stands := o.stands[f.id()]
		if len(stands.advances) == 0 {
			continue
		}
		made, err := domain.NewProgress(stands.advances, g, pounds, at)
		require.NoError(o, err)
		stands.progress = append(stands.progress, made...)
		o.save(made...)
	}
	o.price(nil)
}

// book saves an entry of the journal.
func (o *office) book(e *ledger.Entry) {
	require.NoError(o, e.Check())
	for _, p := range e.Postings {
		o.journal[p.Account] += p.Amount
	}
}

// save makes payouts count, each once in a lifetime.
func (o *office) save(payouts ...*domain.Payout) {
	for _, p := range payouts {
		require.Nil(o, o.payouts[p.ID], "made twice")
		o.payouts[p.ID] = p
		o.owed[p.Barrel.Member] += p.Net
		o.book(ledger.ForPayout(p, domain.Date(p.Time.Format(time.DateOnly))))
	}
}

// situation is a filling at a moment beside what stands for it.
func (o *office) situation(f *filling, moment int) domain.Situation {
	s, stands := f[moment], o.stands[f.id()]
	if len(stands.advances) == 0 {
		return s
	}
	a := stands.advances[0]
	s.Standing = &domain.Standing{
		Payouts: idsOf(stands.advances), Weighing: a.Barrel.Weighing, Ticket: a.Barrel.Ticket, TicketNumber: a.Barrel.TicketNumber,
		Certificate: a.Certificate, CertificateNumber: a.CertificateNumber, Schedule: a.Schedule,
	}
	s.Progress = idsOf(stands.progress)
	if s.Finals = idsOf(stands.finals); len(s.Finals) > 0 {
		s.Run = stands.finals[0].Run
	}
	return s
}

func idsOf(payouts []*domain.Payout) (ids []uuid.UUID) {
	for _, p := range payouts {
		ids = append(ids, p.ID)
	}
	return ids
}

// settle decides about every barrel. Reversals come before what takes their place.
func (o *office) settle(moment int, at time.Time) {
	for _, f := range o.fillings {
		d, err := o.pricer.Decide(o.situation(f, moment), at)
		require.NoError(o, err)
		stands := o.stands[f.id()]
		if d.Reverse != "" {
			for _, p := range stands.all() {
				back, err := p.Reverse(d.Reverse, pounds, at)
				require.NoError(o, err)
				o.save(back)
			}
			*stands = stake{}
		}
		if len(d.Advances) > 0 {
			*stands = stake{advances: d.Advances, finals: d.Finals, progress: d.Progress}
			o.save(stands.all()...)
		}
		if !o.twice {
			continue
		}
		again, err := o.pricer.Decide(o.situation(f, moment), at)
		require.NoError(o, err)
		require.True(o, again.Reverse == "" && len(again.Advances)+len(again.Finals)+len(again.Progress) == 0, "decided again, barrel %s changed", f.id())
	}
}

// close solves the pool, and where it can be solved releases the run.
func (o *office) close(at time.Time) {
	in := o.harvest()
	raw, err := in.Bytes()
	require.NoError(o, err)
	o.fingerprint = pool.Fingerprint(raw)
	r, err := pool.Close(in)
	if err != nil {
		var state *domain.StateError
		require.ErrorAs(o, err, &state)
		o.refused = err.Error()
		return
	}
	o.closing = r
	run := &pool.Run{ID: o.run, Number: "R-2026-01", Pool: o.pool.ID, ReleaseTime: &at}
	run.Outcome, err = r.Bytes()
	require.NoError(o, err)
	declared, err := run.Declared(o.pool)
	require.NoError(o, err)
	paid := pool.Paid{}
	for _, f := range o.fillings {
		stands := o.stands[f.id()]
		if len(stands.advances) == 0 {
			continue
		}
		a := stands.advances[0]
		advances := make([]*domain.Payout, len(stands.advances))
		for i, p := range stands.advances {
			beside := *p
			beside.Progressed = stands.progressed(p.Barrel.Member)
			advances[i] = &beside
		}
		stands.finals, err = domain.NewFinals(advances, declared, declared.Row(a.Barrel.Variety, a.ColorClass, a.Grade), pounds, at)
		require.NoError(o, err)
		paid.Add(stands.finals)
		o.save(stands.finals...)
		o.atClosing[f.id()] = map[string]quantity.Money{}
	}
	require.NoError(o, paid.MustEqual(r.Members))
	for _, p := range o.payouts {
		if of := o.atClosing[p.Barrel.Barrel]; of != nil {
			of[p.Barrel.Member] += p.Gross
		}
	}
	o.book(ledger.ForClosing(run, o.pool, &r.Summary, domain.Date(at.Format(time.DateOnly))))
	o.price([]*domain.ClosedPool{declared})
}

// harvest is the input of the run: every standing advance, owner by owner.
func (o *office) harvest() pool.Input {
	head := pool.NewHead(o.pool, o.entries)
	sorter := pool.NewSorter(head)
	var barrels []pool.Barrel
	together := pool.Gathering{Each: func(b *pool.Barrel, _ []pool.Kept) error {
		kept := *b
		kept.Owners = slices.Clone(b.Owners)
		barrels = append(barrels, kept)
		return nil
	}}
	for _, f := range o.fillings {
		advances := o.stands[f.id()].advances
		if len(advances) == 0 && f[beforeClosing].Counts {
			head.LeftOut++
		}
		for _, p := range advances {
			k := pool.Kept{Harvested: pool.Harvested{
				Barrel: f.id(), Advance: p.ID, Member: p.Barrel.Member, Share: p.Share, Payable: p.Payable, Credited: p.Gross + o.stands[f.id()].progressed(p.Barrel.Member),
				Kind: pool.Kind{Variety: p.Barrel.Variety, ColorClass: p.ColorClass, Grade: p.Grade},
			}}
			for _, l := range p.Lines {
				if l.Kind == domain.LineStep {
					k.Step = l.Amount
				}
			}
			var err error
			k.Class, err = sorter.Class(k.Kind)
			require.NoError(o, err)
			require.NoError(o, together.Add(k))
		}
	}
	require.NoError(o, together.End())
	return head.With(barrels)
}

func (o *office) propose(on domain.Date) *payment.List {
	var owed []payment.Owed
	for _, m := range o.members {
		if o.owed[m] == 0 {
			continue
		}
		claim := payment.Claim{Member: m, Holder: "Holder of " + m, Balance: o.owed[m], Years: payment.ByYear{2026: o.owed[m]}, Notices: o.notices[m]}
		for _, l := range o.loans[m] {
			due, err := l.On(l.NotBefore(on))
			require.NoError(o, err)
			claim.Loans = append(claim.Loans, payment.LoanDue{
				Name: l.Name(), Number: l.Number, Percent: l.Deduction, Interest: due.Interest, Principal: due.Principal, Authority: l.Authority,
			})
		}
		owed = append(owed, payment.Owed{Claim: claim, Accounts: o.accounts})
	}
	list, err := payment.Propose(owed, o.minimum, on, pounds)
	require.NoError(o, err)
	return list
}

// pay prepares and releases a batch. What is proposed right after it pays nobody.
func (o *office) pay(on domain.Date) {
	list := o.propose(on)
	if o.twice {
		confirmed := payment.Confirm(list, o.propose(on), "")
		require.Equal(o, byMember(list), byMember(confirmed))
	}
	byMember(list)
	o.batches = append(o.batches, payday{on: on, owed: maps.Clone(o.owed), list: list})
	for i := range list.Items {
		item := &list.Items[i]
		o.owed[item.Member] -= item.Amount
		for _, e := range o.notices[item.Member] {
			if e.Name() == item.Payee {
				e.Taken += item.Amount
			}
		}
		o.book(ledger.ForPayment(item, "P"))
	}
	for _, d := range list.Deductions {
		o.deduct(d, on)
	}
	if o.twice {
		again := o.propose(on)
		require.Empty(o, again.Items)
		require.Empty(o, again.Deductions)
	}
}

// deduct takes from a balance what a batch takes for a loan.
func (o *office) deduct(d payment.Deduction, on domain.Date) {
	for _, l := range o.loans[d.Member] {
		if l.Name() != d.Loan {
			continue
		}
		due, err := l.On(l.NotBefore(on))
		require.NoError(o, err)
		taken, err := l.Pay(loan.Deducted, d.Interest+d.Principal, due)
		require.NoError(o, err)
		for _, e := range l.Post(due, "users/treasurer1", noon) {
			l.Entries = append(l.Entries, e)
			o.book(ledger.ForLoan(l, &e, nil))
		}
		l.Entries = append(l.Entries, taken)
		m := &domain.MemberEntry{Member: d.Member, Kind: domain.LoanDeduction, Amount: -d.Interest - d.Principal}
		o.book(ledger.ForLoan(l, &taken, m))
		o.owed[d.Member] += m.Amount
	}
}

// byMember sorts a list by member and leaves each member's part as it is.
func byMember(l *payment.List) *payment.List {
	slices.SortStableFunc(l.Items, func(a, b payment.Item) int { return cmp.Compare(a.Member, b.Member) })
	slices.SortStableFunc(l.Blocked, func(a, b payment.Blocked) int { return cmp.Compare(a.Member, b.Member) })
	slices.SortStableFunc(l.Deductions, func(a, b payment.Deduction) int { return cmp.Compare(a.Member, b.Member) })
	return l
}
