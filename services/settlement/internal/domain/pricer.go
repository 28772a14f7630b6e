package domain

import (
	"fmt"
	"time"

	"github.com/google/uuid"
)

// Standing is the advance a barrel has now: one that was not taken back.
type Standing struct {
	// Payouts are the owners' advances, by member number; most barrels have one.
	Payouts           []uuid.UUID
	Weighing          string
	Ticket            uuid.UUID
	TicketNumber      string
	Certificate       uuid.UUID
	CertificateNumber string
	Schedule          uuid.UUID
}

// Situation is all settlement knows of one barrel at one moment.
type Situation struct {
	// Barrel is as its live ticket has it; Counts is false when no closed ticket carries it any more.
	Barrel Delivered
	Counts bool
	// Certificate is nil before one was released. Supersession is why it replaced another; empty for a first.
	Certificate  *Certificate
	Supersession string
	// Holds are the codes of the open holds, oldest first.
	Holds []string
	// Doubt is why the weight or the certificate is in doubt, in plain words; empty where it is not. Nothing is priced meanwhile.
	Doubt string
	// Standing is nil when the barrel has earned nothing yet.
	Standing *Standing
	// Finals are the payouts of a closed pool that stand for the barrel, by member number; none before. Run priced them.
	Finals []uuid.UUID
	Run    uuid.UUID
	// Progress are the progress payments that stand for the barrel.
	Progress []uuid.UUID
}

// Decision is what to do about one barrel: take its advance back, price it anew, or wait.
type Decision struct {
	// Reverse is why the standing advance is taken back; empty to leave it.
	Reverse string
	// Advances are the new advance, one payout for each owner, or none.
	Advances []*Payout
	// Finals take the place of the finals that are taken back with the advance, or none.
	Finals []*Payout
	// Progress are the progress payments of an open pool that go with the advances, or none.
	Progress []*Payout
	// Waiting is why there is none, in plain words; empty if the barrel is priced or counts no more.
	Waiting string
}

// Pricer decides about barrels by the adopted schedules. It may be used from several goroutines.
type Pricer struct {
	terms  Terms
	policy HoldPolicy
	tables []*Table
	sheets []*Schedule
	closed []*ClosedPool
	// progress are the part-payments of open pools.
	progress []*ProgressPayment
}

// WithProgress has barrels that are priced get the progress payments that open pools have paid.
func (p *Pricer) WithProgress(paid []*ProgressPayment) *Pricer {
	p.progress = paid
	return p
}

// NewPricer prepares the schedules; drafts among them price nothing. closed are the pools whose prices are declared.
func NewPricer(schedules []*Schedule, closed []*ClosedPool, policy HoldPolicy, terms Terms) *Pricer {
	p := &Pricer{terms: terms, policy: policy, closed: closed}
	for _, s := range schedules {
		if s.Adopted() {
			p.sheets, p.tables = append(p.sheets, s), append(p.tables, Compile(s))
		}
	}
	return p
}

// Estimate prices a barrel that may not exist by the schedule in force, or by the one given.
func (p *Pricer) Estimate(b Delivered, c Certificate, by *Schedule, at time.Time) (*Payout, error) {
	table := p.inForce(b.CropYear, b.Date)
	if by != nil {
		table = Compile(by)
	}
	if table == nil {
		return nil, &StateError{State: "NO_SCHEDULE", Message: fmt.Sprintf("no schedule is adopted for crop year %d and deliveries of %s", b.CropYear, b.Date)}
	}
	row := table.Row(b.Variety, c.ColorClass, c.Grade)
	if row < 0 {
		return nil, &StateError{
			Resource: table.Schedule.Name(), State: "NO_PRICE",
			Message: "the schedule has no price for " + inWords(b.Variety, c.ColorClass, c.Grade),
		}
	}
	return NewAdvance(table, row, b, c, p.terms, at)
}

// Decide says what one barrel's situation calls for. It depends on the situation alone and never on what happened first, so
// facts of the neighbours may arrive in any order. A standing advance that still rests on the live ticket, weight and
// certificate is left alone, whatever holds or schedules came later.
func (p *Pricer) Decide(s Situation, at time.Time) (Decision, error) {
	var d Decision
	if s.Standing != nil {
		if d.Reverse = s.outdated(); d.Reverse == "" {
			return d, nil
		}
	}
	if !s.Counts {
		return d, nil
	}
	if s.Doubt != "" && s.Standing != nil && (s.onlyReweighed() || len(s.Finals) > 0) {
		// What counts instead is not decided yet. A final is left too: taken back, it would have nothing to come again from.
		return Decision{Waiting: s.Doubt}, nil
	}
	table, row, waiting := p.ready(s)
	if waiting != "" {
		d.Waiting = waiting
		return d, nil
	}
	return d, p.price(s, table, row, at, &d)
}

// price fills in the new payouts of every owner.
func (p *Pricer) price(s Situation, table *Table, row int, at time.Time, d *Decision) error {
	advance, err := NewAdvance(table, row, s.Barrel, *s.Certificate, p.terms, at)
	if err != nil {
		return err
	}
	if d.Advances, err = advance.Split(p.terms); err != nil {
		return err
	}
	if len(s.Finals) > 0 {
		d.Finals, err = p.finalAgain(d.Advances, s.Run, at)
		return err
	}
	d.Progress, err = p.progressAgain(d.Advances, at)
	return err
}

// finalAgain prices a corrected barrel at what the run of its final declared. The closed figures stay; the difference is an
// adjustment of the present period. A class the closing did not know has no price: the barrel waits for another pool.
func (p *Pricer) finalAgain(advances []*Payout, run uuid.UUID, at time.Time) ([]*Payout, error) {
	advance := advances[0]
	for _, c := range p.closed {
		if c.Run != run {
			continue
		}
		if row := c.prices.Row(advance.Barrel.Variety, advance.ColorClass, advance.Grade); row >= 0 {
			return NewFinals(advances, c, row, p.terms, at)
		}
	}
	return nil, nil
}

// Waiting is why a barrel has earned nothing yet, in plain words.
func (p *Pricer) Waiting(s Situation) string {
	if _, _, waiting := p.ready(s); waiting != "" {
		return waiting
	}
	return "it is being priced just now"
}

// outdated says what the standing advance no longer rests on.
func (s Situation) outdated() string {
	switch {
	case !s.Counts:
		return fmt.Sprintf("ticket %s was voided", s.Standing.TicketNumber)
	case s.Barrel.Ticket != s.Standing.Ticket:
		return fmt.Sprintf("ticket %s was void and ticket %s replaces it", s.Standing.TicketNumber, s.Barrel.TicketNumber)
	case s.Certificate == nil:
		return fmt.Sprintf("certificate %s no longer belongs to the barrel", s.Standing.CertificateNumber)
	case s.Certificate.ID != s.Standing.Certificate:
		text := fmt.Sprintf("certificate %s was replaced by %s", s.Standing.CertificateNumber, s.Certificate.Number)
		if s.Supersession != "" {
			text += " (" + s.Supersession + ")"
		}
		return text
	case s.onlyReweighed():
		if s.Barrel.Corrected == "" {
			return "a correction of the weight was withdrawn"
		}
		return s.Barrel.Corrected
	}
	return ""
}

// onlyReweighed reports whether the net weight is all the standing advance no longer rests on.
func (s Situation) onlyReweighed() bool {
	return s.Counts && s.Barrel.Ticket == s.Standing.Ticket && s.Certificate != nil && s.Certificate.ID == s.Standing.Certificate &&
		s.Barrel.Weighing != s.Standing.Weighing
}

// ready finds the price of a barrel, or why there is none yet. A hold does not delay the correction of an advance that was
// paid before it: it would take money back.
func (p *Pricer) ready(s Situation) (*Table, int, string) {
	if s.Certificate == nil {
		return nil, 0, "waiting for its certificate"
	}
	if s.Certificate.Water <= 0 {
		return nil, 0, fmt.Sprintf("certificate %s states no water content", s.Certificate.Number)
	}
	if s.Doubt != "" {
		return nil, 0, s.Doubt
	}
	if code := p.policy.Blocking(s.Holds); code != "" && s.Standing == nil {
		return nil, 0, holdInWords(code)
	}
	b, c := s.Barrel, s.Certificate
	if t, row := p.asBefore(s); t != nil {
		return t, row, ""
	}
	t := p.inForce(b.CropYear, b.Date)
	if t == nil {
		return nil, 0, fmt.Sprintf("no schedule is adopted for crop year %d and deliveries of %s", b.CropYear, b.Date)
	}
	row := t.Row(b.Variety, c.ColorClass, c.Grade)
	if row < 0 {
		return nil, 0, "no adopted schedule has a price for " + inWords(b.Variety, c.ColorClass, c.Grade)
	}
	return t, row, ""
}

// asBefore is the table that priced the advance being corrected. A correction uses the prices of the original, so that a
// void and an identical reissue come to exactly nothing, unless the delivery itself is another or it has no price there.
func (p *Pricer) asBefore(s Situation) (*Table, int) {
	if s.Standing == nil {
		return nil, 0
	}
	for _, t := range p.tables {
		if t.Schedule.ID != s.Standing.Schedule {
			continue
		}
		if t.Schedule.CropYear != s.Barrel.CropYear || t.Schedule.Effective > s.Barrel.Date {
			return nil, 0
		}
		if row := t.Row(s.Barrel.Variety, s.Certificate.ColorClass, s.Certificate.Grade); row >= 0 {
			return t, row
		}
	}
	return nil, 0
}

func (p *Pricer) inForce(cropYear int, date Date) *Table {
	s := InForce(p.sheets, cropYear, date)
	for _, t := range p.tables {
		if t.Schedule == s {
			return t
		}
	}
	return nil
}
