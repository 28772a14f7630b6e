package domain_test

import (
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/loan"
	"barrelhead.example/services/settlement/internal/domain/payment"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// The moments of a year at which what is known of a barrel may have changed.
const (
	delivered = iota
	beforeClosing
	afterClosing
	moments
)

// year is one crop year of a small cooperative as it is drawn: nothing in it has been priced or paid.
type year struct {
	schedule *domain.Schedule
	members  []string
	fillings []*filling
	loans    map[string][]*loan.Loan
	notices  map[string][]*payment.Encumbrance
	accounts map[string]*payment.Account
	pool     *pool.Account
	entries  []*pool.Record
	run      uuid.UUID
	minimum  quantity.Money
	// progress are the part-payments of an open pool, in order: the first before facts change, the second after.
	progress []*domain.ProgressPayment
	// paydays are the days of the advances' batch and of the finals'.
	paydays [2]domain.Date
}

// filling is a barrel by what is known of it at each moment.
type filling [moments]domain.Situation

func (f *filling) id() uuid.UUID { return f[delivered].Barrel.Barrel }

var (
	priced = []string{"WHITE", "LIGHT_AMBER", "AMBER", "DARK_AMBER"}
	// pooled leaves out a colour that has an advance price: regraded to it after the closing, a barrel has no final.
	pooled = priced[:3]
)

type drawer struct{ *rand.Rand }

func (d drawer) oneIn(n int) bool { return d.IntN(n) == 0 }

func (d drawer) money(most int64) quantity.Money { return quantity.Money(1 + d.Int64N(most)) }

func (d drawer) percent(most int64) quantity.Percent { return quantity.Percent(1 + d.Int64N(most)) }

func (d drawer) id() (id uuid.UUID) {
	binary.BigEndian.PutUint64(id[:8], d.Uint64())
	binary.BigEndian.PutUint64(id[8:], d.Uint64())
	return id
}

// day is from the first of a month on, within some days.
func (d drawer) day(year int, month time.Month, within int) domain.Date {
	return domain.Date(time.Date(year, month, 1+d.IntN(within), 0, 0, 0, 0, time.UTC).Format(time.DateOnly))
}

// draw makes a year of its seed, the same on every machine and every time.
func draw(seed uint64) *year {
	d := drawer{rand.New(rand.NewPCG(seed, 602))}
	y := &year{
		schedule: d.schedule(), run: d.id(), minimum: []quantity.Money{0, 10_00, 25_00}[d.IntN(3)],
		loans: map[string][]*loan.Loan{}, notices: map[string][]*payment.Encumbrance{}, accounts: map[string]*payment.Account{},
		paydays: [2]domain.Date{"2026-10-02", d.day(2027, time.March, 200)},
	}
	for i := range 2 + d.IntN(4) {
		y.members = append(y.members, fmt.Sprintf("members/M-%04d", 1+i))
	}
	var net quantity.Mass
	for range 1 + d.IntN(5) {
		f := d.filling(y.members)
		y.fillings, net = append(y.fillings, f), net+f[delivered].Barrel.Net
	}
	for _, m := range y.members {
		for n := range max(0, d.IntN(4)-1) {
			y.loans[m] = append(y.loans[m], d.loan(m, n))
		}
		d.rights(y, m)
		d.account(y, m)
	}
	d.books(y, net)
	d.partPayments(y)
	return y
}

func (d drawer) schedule() *domain.Schedule {
	rate := func() quantity.Price { return quantity.Price(d.Int64N(50_001)) }
	s := &domain.Schedule{
		ID: d.id(), CropYear: 2026, Version: 1, Effective: "2026-07-01", Moisture: domain.MoistureRule{Base: domain.USGradeABase, Step: quantity.Price(d.Int64N(2) * 10_000)},
		Charges: []domain.Charge{
			{Code: "HAULING", Description: "Hauling", Authority: "Marketing agreement", Basis: domain.BasisNet, Rate: rate()},
			{Code: "CHECK_OFF", Description: "Check-off", Authority: "Marketing agreement", Basis: domain.BasisPayable, Rate: rate()},
			{Code: "CONTAINER", Description: "Container", Authority: "Marketing agreement", Basis: domain.BasisBarrel, Amount: quantity.Money(d.Int64N(300))},
			{Code: "RETAIN", Description: "Retain", Authority: "Bylaws", Basis: domain.BasisPayable, Rate: rate(), Retained: true},
		},
		Resolution: "Board no. 3", Drafter: "users/office1", Adopter: "users/board1", AdoptTime: noon,
	}
	mix(d, s.Charges)
	s.Charges = s.Charges[d.IntN(len(s.Charges)+1):]
	for _, color := range priced {
		s.Rows = append(s.Rows, domain.PriceRow{ColorClass: color, Grade: "A", Advance: quantity.Price(500_000 + d.Int64N(1_000_001))})
	}
	return s
}

func (d drawer) filling(members []string) *filling {
	s := domain.Situation{Counts: true, Barrel: domain.Delivered{
		Barrel: d.id(), DrumTag: fmt.Sprintf("FC-%05d", d.IntN(99_999)), Variety: "clover",
		Net: quantity.Mass(1+d.Int64N(7_000)) * 100, CropYear: 2026, Date: d.day(2026, time.August, 30),
	}}
	d.ticket(&s)
	d.owners(&s, members)
	if !d.oneIn(10) {
		d.certify(&s, pooled)
	}
	if d.oneIn(10) {
		s.Holds = []string{"RESIDUE"}
	}
	var f filling
	f[delivered] = s
	s.Holds = nil
	f[beforeClosing] = d.changed(s, members, pooled)
	f[afterClosing] = d.changed(f[beforeClosing], members, priced)
	return &f
}

// changed is what is known later on: for most barrels the same.
func (d drawer) changed(s domain.Situation, members, colors []string) domain.Situation {
	switch d.IntN(12) {
	case 0:
		s.Counts = false
	case 1: // an identical reissue; of a voided ticket too
		s.Counts = true
		d.ticket(&s)
	case 2:
		d.ticket(&s)
		d.owners(&s, members)
	case 3:
		d.certify(&s, colors)
		s.Supersession = "the reading was repeated"
	case 4:
		by := quantity.Mass(d.Int64N(2_001)-1_000) * 100
		s.Barrel.Correct(pounds.Reweighed(d.id().String(), s.Barrel.Net+50_000, s.Barrel.Net+50_000+by, s.Barrel.Net+by, by))
	}
	return s
}

func (d drawer) ticket(s *domain.Situation) {
	s.Barrel.Ticket, s.Barrel.TicketNumber = d.id(), fmt.Sprintf("FC-2026-%06d", d.IntN(999_999))
}

func (d drawer) certify(s *domain.Situation, colors []string) {
	s.Certificate = &domain.Certificate{
		ID: d.id(), Number: fmt.Sprintf("G-2026-%06d", d.IntN(999_999)), Grade: "A", ColorClass: colors[d.IntN(len(colors))], Water: quantity.Percent(1500 + d.IntN(600)),
	}
}

// owners are by member number, as they are kept.
func (d drawer) owners(s *domain.Situation, members []string) {
	s.Barrel.Member, s.Barrel.Owners = members[d.IntN(len(members))], nil
	if !d.oneIn(3) {
		return
	}
	some := d.Perm(len(members))[:2+d.IntN(min(2, len(members)-1))]
	slices.Sort(some)
	left := int64(domain.WholeShare)
	for i, m := range some {
		share := left
		if others := int64(len(some) - 1 - i); others > 0 {
			share = 1 + d.Int64N(left-others)
		}
		s.Barrel.Owners, left = append(s.Barrel.Owners, domain.Owner{Member: members[m], Share: share}), left-share
	}
}

// loan was lent in the spring; of some, interest was posted and a part paid back by hand since.
func (d drawer) loan(member string, n int) *loan.Loan {
	l := &loan.Loan{
		ID: d.id(), Number: fmt.Sprintf("L-2026-%03d", 1+n), Member: member, Purpose: loan.Cash, Principal: d.money(600_00),
		Rate: quantity.Percent(d.Int64N(int64(loan.MaxRate) + 1)), DayCount: loan.DayCount(1 + d.IntN(2)), Deduction: quantity.Percent(d.Int64N(100_01)), Authority: "Loan agreement",
		Proposer: "users/office1",
	}
	l.Entries = []loan.Entry{l.Approve("users/board1", "Board no. 2", noon, d.day(2026, time.January, 150))}
	if due, err := l.On(d.day(2026, time.August, 30)); err == nil && d.oneIn(2) {
		l.Entries = append(l.Entries, l.Post(due, "users/office1", noon)...)
		if paid, err := l.Pay(loan.Paid, d.money(int64(due.Payoff())), due); err == nil && d.oneIn(2) {
			l.Entries = append(l.Entries, paid)
		}
	}
	return l
}

// rights are other people's, each with an account of its own; a dead member's heirs come in between the two paydays or before.
func (d drawer) rights(y *year, member string) {
	add := func(e payment.Encumbrance) {
		e.ID, e.Member, e.Document = d.id(), member, "Paper of the creditor"
		e.Creditor = e.Kind.Words()
		y.notices[member] = append(y.notices[member], &e)
		d.account(y, e.Name())
	}
	for range max(0, d.IntN(6)-2) {
		e := payment.Encumbrance{Kind: payment.Withholding + payment.EncumbranceKind(d.IntN(5)), Percent: d.percent(100_00), Received: d.day(2026, time.March, 90)}
		if d.oneIn(2) {
			e.Limit = d.money(200_00)
		}
		if e.Kind >= payment.Lien { // all honey of the year is of the first one; of the other a balance holds nothing
			e.CropYear = []int{0, 0, 2026, 2025}[d.IntN(4)]
		}
		switch d.IntN(16) {
		case 0:
			e.Ender, e.EndDocument = "users/office2", "Release"
		case 1:
			e.Expires = "2026-12-31"
		case 2:
			e.Unresolved = true
		}
		add(e)
	}
	if !d.oneIn(5) {
		return
	}
	from := []domain.Date{"2026-09-01", "2027-01-01"}[d.IntN(2)]
	left := quantity.Percent(100_00)
	for d.oneIn(2) && left > 1 {
		share := d.percent(int64(left) - 1)
		add(payment.Encumbrance{Kind: payment.Heir, Percent: share, Received: from})
		left -= share
	}
	if !d.oneIn(6) { // else the heirs do not agree yet
		add(payment.Encumbrance{Kind: payment.Heir, Percent: left, Received: from})
	}
}

func (d drawer) account(y *year, payee string) {
	if d.oneIn(25) {
		return
	}
	a := &payment.Account{ID: d.id(), Payee: payee, Holder: "Holder of " + payee, Tail: "0001", UsableFrom: "2026-06-01", Verifier: "users/office2"}
	switch d.IntN(25) {
	case 0:
		a.Verifier = ""
	case 1:
		a.UsableFrom = "2026-11-01"
	}
	y.accounts[payee] = a
}

// books are the pool's account: what the honey earned a pound, from well below the advances to well above, less costs.
func (d drawer) books(y *year, net quantity.Mass) {
	y.pool = &pool.Account{ID: d.id(), CropYear: 2026, Title: "Table honey"}
	for _, color := range pooled {
		y.pool.Classes = append(y.pool.Classes, pool.Class{ColorClass: color, Grade: "A", Differential: quantity.Price(d.Int64N(50_001)-25_000) * 10})
	}
	add := func(kind pool.EntryKind, cents int64) {
		e := &pool.Record{ID: d.id(), Kind: kind, Amount: quantity.Money(int64(net)*cents/1000) + d.money(100), Description: "Entry", Document: "Invoice", Date: "2027-01-15"}
		y.entries = append(y.entries, e)
		if kind == pool.Proceeds {
			y.pool.Proceeds += e.Amount
		} else {
			y.pool.Expenses += e.Amount
		}
	}
	add(pool.Proceeds, 20+d.Int64N(100))
	add(pool.Proceeds, 20+d.Int64N(100))
	add(pool.Expense, d.Int64N(20))
	if d.oneIn(30) { // more than the honey earned: such a pool stays open
		add(pool.Expense, 300)
	}
}

// partPayments are none in two thirds of the years, and from far too little to far too much in the others.
func (d drawer) partPayments(y *year) {
	for range max(0, d.IntN(6)-3) {
		y.progress = append(y.progress, &domain.ProgressPayment{
			ID: d.id(), Pool: y.pool.ID, Title: y.pool.Title, Rate: quantity.Price(1 + d.Int64N(300_000)), Proposer: "users/office1", ProposeTime: noon,
			Scope: domain.Scope{Pool: y.pool.ID, CropYear: y.pool.CropYear},
		})
	}
}

// shuffle brings everything whose order means nothing into another one. Loans stay the oldest first.
func (y *year) shuffle(seed uint64) {
	d := drawer{rand.New(rand.NewPCG(seed, 603))}
	mix(d, y.members)
	mix(d, y.fillings)
	mix(d, y.entries)
	mix(d, y.pool.Classes)
	for _, m := range slices.Sorted(slices.Values(y.members)) {
		mix(d, y.notices[m])
	}
}

func mix[T any](d drawer, s []T) { d.Shuffle(len(s), func(i, j int) { s[i], s[j] = s[j], s[i] }) }
