package pool

import (
	"bytes"
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// Change is one difference between two closings and its cause.
type Change struct {
	Subject string
	Cause   string
	// Difference is what a barrel is worth more or less, or an entry adds; nil for prices.
	Difference *quantity.Money
}

// MemberChange is what a member comes to in both.
type MemberChange struct {
	Member        string
	Before, After quantity.Money
}

// Comparison is what changed from one closing to another.
type Comparison struct {
	Changes []Change
	Members []MemberChange
}

// comparing is a comparison in the making, in the words of the cooperative's unit and currency.
type comparing struct {
	Comparison
	terms domain.Terms
}

// Compare finds the cause of every difference between two closings. A barrel whose inputs are the same is worth more or less
// only by the price, which is one change for all of them; such barrels may be left out of both sides.
func Compare(terms domain.Terms, before, after Input, was, is *Result) Comparison {
	before, after = before.Canonical(), after.Canonical()
	c := comparing{terms: terms}
	c.entries(before, after)
	c.classes(was, is)
	c.barrels(before, after, was, is)
	if before.LeftOut != after.LeftOut {
		c.add("barrels left out", fmt.Sprintf("%d before, %d now", before.LeftOut, after.LeftOut), nil)
	}
	c.members(was, is)
	return c.Comparison
}

func (c *comparing) add(subject, cause string, difference *quantity.Money) {
	c.Changes = append(c.Changes, Change{subject, cause, difference})
}

func (c *comparing) entries(before, after Input) {
	had, has := map[uuid.UUID]bool{}, map[uuid.UUID]bool{}
	for _, e := range before.Entries {
		had[e.Entry] = true
	}
	for _, e := range after.Entries {
		has[e.Entry] = true
		if !had[e.Entry] {
			c.add("poolEntries/"+e.Entry.String(), "entered", &e.Amount)
		}
	}
	for _, e := range before.Entries {
		if !has[e.Entry] {
			taken := -e.Amount
			c.add("poolEntries/"+e.Entry.String(), "no longer there", &taken)
		}
	}
}

func (c *comparing) classes(was, is *Result) {
	if was.Base != is.Base {
		c.add("base price", fmt.Sprintf("%s before, %s now: all honey of the pool is worth that much more or less", c.terms.Price(was.Base), c.terms.Price(is.Base)), nil)
	}
}

func (c *comparing) barrels(before, after Input, was, is *Result) {
	old, worthOld, worthNew := map[uuid.UUID]*Barrel{}, worth(was), worth(is)
	var progressed quantity.Money
	count := 0
	for i := range before.Barrels {
		old[before.Barrels[i].Barrel] = &before.Barrels[i]
	}
	for i := range after.Barrels {
		b := &after.Barrels[i]
		cause := "priced since"
		if o := old[b.Barrel]; o != nil {
			if cause = c.because(o, b, before.Classes, after.Classes); cause == "" {
				if by := credited(b) - credited(o); by != 0 {
					progressed, count = progressed+by, count+1
				}
				delete(old, b.Barrel)
				continue
			}
		}
		delete(old, b.Barrel)
		difference := worthNew[b.Barrel] - worthOld[b.Barrel]
		c.add("barrels/"+b.Barrel.String(), cause, &difference)
	}
	if count > 0 {
		c.add("progress payments", fmt.Sprintf("%s more was credited on %s barrels before the closing; it is taken off what is still due, and the value is the same",
			c.terms.Money(progressed), quantity.Whole(int64(count))), nil)
	}
	gone := make([]*Barrel, 0, len(old))
	for _, o := range old {
		gone = append(gone, o)
	}
	slices.SortFunc(gone, func(a, b *Barrel) int { return bytes.Compare(a.Barrel[:], b.Barrel[:]) })
	for _, o := range gone {
		difference := -worthOld[o.Barrel]
		c.add("barrels/"+o.Barrel.String(), "its advance was taken back", &difference)
	}
}

// because is what changed about a barrel, or "" where nothing but the price did.
func (c *comparing) because(o, b *Barrel, before, after []Class) string {
	switch {
	case o.Owners[0].Member != b.Owners[0].Member:
		return fmt.Sprintf("it belongs to %s and not to %s: its ticket was replaced", number(b.Owners[0].Member), number(o.Owners[0].Member))
	case before[o.Class] != after[b.Class]:
		return fmt.Sprintf("it is %s and was %s: its certificate was replaced, or the differential was", c.words(after[b.Class]), c.words(before[o.Class]))
	case o.Payable != b.Payable:
		return fmt.Sprintf("%s is paid for and not %s: its certificate or ticket was replaced", c.terms.Mass(b.Payable), c.terms.Mass(o.Payable))
	case o.Advance != b.Advance:
		return "its advance was priced anew"
	case !slices.EqualFunc(o.Owners, b.Owners, sameOwner) || o.Step != b.Step:
		return "its owners' shares, or what comes off for water, changed"
	}
	return ""
}

// sameOwner leaves out the place, which each calculation gives anew, and what was credited, which a progress payment raises.
func sameOwner(a, b Owner) bool {
	a.Place, b.Place = 0, 0
	a.Credited, b.Credited = 0, 0
	return a == b
}

func credited(b *Barrel) (sum quantity.Money) {
	for _, o := range b.Owners {
		sum += o.Credited
	}
	return sum
}

// words name a class and what it is worth more or less than the base, e.g. "any source, extra light amber, grade A (+$0.05 per lb)".
func (c *comparing) words(of Class) string {
	sign := ""
	if of.Differential > 0 {
		sign = "+"
	}
	return fmt.Sprintf("%s (%s%s)", domain.ClassInWords(cmp.Or(of.Variety, "any source"), of.ColorClass, of.Grade), sign, c.terms.Price(of.Differential))
}

// number is what people call a member: "M-0012" of "members/M-0012".
func number(member string) string { return strings.TrimPrefix(member, "members/") }

func worth(r *Result) map[uuid.UUID]quantity.Money {
	out := make(map[uuid.UUID]quantity.Money, len(r.Lines))
	for _, l := range r.Lines {
		out[l.Barrel] += l.Value
	}
	return out
}

func (c *comparing) members(was, is *Result) {
	values := map[string]*MemberChange{}
	at := func(member string) *MemberChange {
		if values[member] == nil {
			values[member] = &MemberChange{Member: member}
		}
		return values[member]
	}
	for _, m := range was.Members {
		at(m.Member).Before = m.Value
	}
	for _, m := range is.Members {
		at(m.Member).After = m.Value
	}
	for _, m := range values {
		if m.Before != m.After {
			c.Members = append(c.Members, *m)
		}
	}
	slices.SortFunc(c.Members, func(a, b MemberChange) int { return cmp.Compare(a.Member, b.Member) })
}
