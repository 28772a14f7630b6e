package domain

import (
	"fmt"
	"maps"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// WholeShare is everything, in ten-thousandths of a percent.
const WholeShare = 100_0000

// Owner is one member's part of a delivery, in ten-thousandths of a percent.
type Owner struct {
	Member string
	Share  int64
}

// percentShare is a share as people read it, e.g. "40 %" or "33.3333 %".
func percentShare(share int64) string { return quantity.FormatFixed(share, 4, 0) + " %" }

// Shared reports whether somebody else owns a part of the barrel too.
func (p *Payout) Shared() bool { return p.Share != WholeShare }

// divider shares totals among the owners of one barrel by largest remainder.
type divider struct {
	owners  []Owner
	weights []int64
	err     error
}

func dividerOf(owners []Owner) *divider {
	d := &divider{owners: owners, weights: make([]int64, len(owners))}
	for i, o := range owners {
		d.weights[i] = o.Share
	}
	return d
}

// divide keeps the first error. Shares of the same weights differ in nothing but the total, so they fail together or not.
func divide[T ~int64](d *divider, total T) []quantity.Portion[T] {
	parts, err := quantity.Portions(total, d.weights)
	if err != nil {
		d.err = fmt.Errorf("share among %d owners: %w", len(d.owners), err)
		return make([]quantity.Portion[T], len(d.owners))
	}
	return parts
}

// Split makes one payout for each owner of a barrel. Weights and each group of lines are shared by largest remainder: what
// the honey earned is one group, every charge another. So the owners' amounts sum to the barrel's, group by group, and each
// line says whether it got the odd cent. A barrel without a list of owners is its member's alone.
func (p *Payout) Split(terms Terms) ([]*Payout, error) {
	p.Share = WholeShare
	if len(p.Barrel.Owners) == 0 {
		return []*Payout{p}, nil
	}
	return p.split(terms, nil)
}

// split shares the payout; credited is, for a final, the advance of each owner.
func (p *Payout) split(terms Terms, advances []*Payout) ([]*Payout, error) {
	d := dividerOf(p.Barrel.Owners)
	payable, lost := divide(d, p.Payable), divide(d, p.Barrel.Net-p.Payable)
	out := make([]*Payout, len(d.owners))
	for i, o := range d.owners {
		part := *p
		part.Share, part.Barrel.Member = o.Share, o.Member
		part.ID = ownerPayoutID(p.ID, o.Member)
		part.Payable, part.Barrel.Net = payable[i].Amount, payable[i].Amount+lost[i].Amount
		part.Lines, part.Gross, part.Net = make([]Line, len(p.Lines)), 0, 0
		out[i] = &part
	}
	p.splitHoney(d, out, advances, terms)
	for n, l := range p.Lines {
		switch l.Kind {
		case LineHoney, LineStep:
			continue
		case LineCredited:
			for i := range out {
				out[i].Lines[n] = creditedBefore(advances[i], terms)
			}
		default:
			for i, share := range divide(d, l.Amount) {
				out[i].Lines[n] = l.part(out[i].Share, share, terms)
			}
		}
	}
	if d.err != nil {
		return nil, d.err
	}
	for i, part := range out {
		part.sum()
		part.Headline = fmt.Sprintf("Your %s of barrel %s: %s. %s", percentShare(part.Share), p.Barrel.DrumTag, terms.money(part.Net), p.Headline)
		if advances != nil {
			part.Headline = fmt.Sprintf("Your %s of barrel %s. %s", percentShare(part.Share), p.Barrel.DrumTag, finalHeadline(advances[i], part.Gross+advances[i].credited(), terms))
		}
		if err := part.Check(); err != nil {
			return nil, err
		}
	}
	return out, p.mustSum(out)
}

// splitHoney shares what the honey earned as one amount, as a pool's closing does; the step for water is shared for itself,
// and the line of the honey is the difference.
func (p *Payout) splitHoney(d *divider, out, advances []*Payout, terms Terms) {
	var value quantity.Money
	honey := -1
	for n, l := range p.Lines {
		if l.Kind == LineHoney {
			honey = n
		}
		if l.Kind == LineHoney || l.Kind == LineStep {
			value += l.Amount
		}
	}
	if honey < 0 {
		return
	}
	values := divide(d, value)
	for n, l := range p.Lines {
		if l.Kind != LineStep {
			continue
		}
		for i, share := range divide(d, l.Amount) {
			out[i].Lines[n] = l.part(out[i].Share, share, terms)
			if advances != nil { // it was shared with the advance, by the same weights
				out[i].Lines[n] = advances[i].step()
			}
			values[i].Amount -= out[i].Lines[n].Amount
		}
	}
	for i := range out {
		out[i].Lines[honey] = p.Lines[honey].part(out[i].Share, values[i], terms)
	}
}

// part is an owner's part of a line. Weight and price stay those of the barrel, so that the owner can calculate them again.
func (l Line) part(share int64, amount quantity.Portion[quantity.Money], terms Terms) Line {
	whole := l.Amount
	l.Amount, l.Odd = amount.Amount, amount.Odd
	l.Description = "Your " + percentShare(share) + " of: " + l.Description
	l.Why.Calculation += fmt.Sprintf("; your %s of %s = %s", percentShare(share), terms.money(whole), terms.money(l.Amount))
	if l.Odd {
		l.Why.Calculation += fmt.Sprintf("; %s of it was placed by the rounding rule", terms.money(1))
	}
	inputs := map[string]string{"share": percentShare(share), "barrel_amount": terms.money(whole)}
	maps.Copy(inputs, l.Why.Inputs)
	l.Why.Inputs = inputs
	return l
}

func (p *Payout) sum() {
	for _, l := range p.Lines {
		p.Net += l.Amount
		if l.Kind != LineCharge && l.Kind != LineRetain {
			p.Gross += l.Amount
		}
	}
}

// mustSum compares the parts with the whole.
func (p *Payout) mustSum(parts []*Payout) error {
	var net, gross, weight, payable int64
	for _, part := range parts {
		net, gross = net+int64(part.Net), gross+int64(part.Gross)
		weight, payable = weight+int64(part.Barrel.Net), payable+int64(part.Payable)
	}
	for _, c := range []struct{ whole, sum int64 }{
		{int64(p.Net), net}, {int64(p.Gross), gross}, {int64(p.Barrel.Net), weight}, {int64(p.Payable), payable},
	} {
		if c.whole != c.sum {
			return &TotalError{What: "the owners' parts of barrel " + p.Barrel.DrumTag, Want: quantity.Money(c.whole), Got: quantity.Money(c.sum)}
		}
	}
	return nil
}

// ownerPayoutID is an owner's own identity of a shared payout.
func ownerPayoutID(whole uuid.UUID, member string) uuid.UUID {
	return uuid.NewSHA1(payoutSpace, fmt.Appendf(nil, "%s/%s", whole, member))
}

// Join is the whole barrel again, from the advances of its owners in their order.
func Join(parts []*Payout) *Payout {
	whole := *parts[0]
	if !whole.Shared() {
		return &whole
	}
	whole.Barrel.Owners, whole.Lines = nil, nil
	whole.Payable, whole.Barrel.Net, whole.Gross, whole.Net, whole.Progressed, whole.Share = 0, 0, 0, 0, 0, WholeShare
	step := parts[0].step()
	step.Amount = 0
	for _, p := range parts {
		whole.Barrel.Owners = append(whole.Barrel.Owners, Owner{Member: p.Barrel.Member, Share: p.Share})
		whole.Payable, whole.Barrel.Net = whole.Payable+p.Payable, whole.Barrel.Net+p.Barrel.Net
		whole.Gross, whole.Net, whole.Progressed = whole.Gross+p.Gross, whole.Net+p.Net, whole.Progressed+p.Progressed
		step.Amount += p.step().Amount
	}
	if step.Kind == LineStep {
		whole.Lines = []Line{step}
	}
	return &whole
}

// step is the line for water above the base, or none.
func (p *Payout) step() Line {
	for _, l := range p.Lines {
		if l.Kind == LineStep {
			return l
		}
	}
	return Line{}
}

// NewFinals are the finals of one barrel, one for each of its advances.
func NewFinals(advances []*Payout, c *ClosedPool, row int, terms Terms, at time.Time) ([]*Payout, error) {
	f, err := NewFinal(Join(advances), c, row, terms, at)
	if err != nil {
		return nil, err
	}
	if !advances[0].Shared() {
		f.Share = WholeShare
		return []*Payout{f}, nil
	}
	return f.split(terms, advances)
}
