package domain

import (
	"fmt"

	"barrelhead.example/services/kit/quantity"
)

// Table is a schedule made ready for pricing. It may be used from several goroutines.
type Table struct {
	Schedule  *Schedule
	varieties names
	colors    names
	grades    names
	// rows holds 1 + the index of the row for each cell; 0 is no price.
	rows []int32
}

// Compile prepares a schedule. Each name is numbered, so that a price is found by three short look-ups and an index.
func Compile(s *Schedule) *Table {
	t := &Table{Schedule: s, varieties: names{""}}
	for _, r := range s.Rows {
		t.varieties.add(r.Variety)
		t.colors.add(r.ColorClass)
		t.grades.add(r.Grade)
	}
	t.rows = make([]int32, len(t.varieties)*len(t.colors)*len(t.grades))
	for i, r := range s.Rows {
		t.rows[t.cell(t.varieties.number(r.Variety), t.colors.number(r.ColorClass), t.grades.number(r.Grade))] = int32(i + 1)
	}
	return t
}

// names numbers a handful of names. A look along the list beats a map for so few.
type names []string

func (n *names) add(name string) {
	if n.number(name) < 0 {
		*n = append(*n, name)
	}
}

// number is -1 for a name that is not there.
func (n names) number(name string) int {
	for i := range n {
		if n[i] == name {
			return i
		}
	}
	return -1
}

func (t *Table) cell(variety, color, grade int) int {
	return (variety*len(t.colors)+color)*len(t.grades) + grade
}

// Row finds the price row of a cell: that of the variety, else that of every other source. It is -1 where the schedule
// has no price.
func (t *Table) Row(variety, color, grade string) int {
	c, g := t.colors.number(color), t.grades.number(grade)
	if c < 0 || g < 0 {
		return -1
	}
	// A variety without a number is number 0, the empty one.
	if row := t.rows[t.cell(max(t.varieties.number(variety), 0), c, g)]; row > 0 {
		return int(row - 1)
	}
	return int(t.rows[t.cell(0, c, g)]) - 1
}

// Amounts are the numbers of one priced barrel. What words explain them follows from the row, the schedule and the
// certificate, so they are only made when a payout is written.
type Amounts struct {
	Row     int
	Payable quantity.Mass
	// Tenths is how many full or part 0.1 % the water exceeds the base.
	Tenths int64
	Honey  quantity.Money
	// Step is zero or negative.
	Step quantity.Money
	// Charges are negative, in the order of the schedule.
	Charges []quantity.Money
	Gross   quantity.Money
	Net     quantity.Money
}

// Price fills into with what a barrel earns by one row of the schedule. It is a pure function: the same barrel and
// schedule give the same cents on every machine. The space of into.Charges is used again. Errors: quantity.ErrRange.
func (t *Table) Price(row int, net quantity.Mass, water quantity.Percent, into *Amounts) error {
	rule := &t.Schedule.Moisture
	payable, err := rule.Payable(net, water)
	if err != nil {
		return fmt.Errorf("payable weight: %w", err)
	}
	into.Row, into.Payable, into.Tenths, into.Step = row, payable, rule.Tenths(water), 0
	if into.Honey, err = times(t.Schedule.Rows[row].Advance, payable); err != nil {
		return fmt.Errorf("honey: %w", err)
	}
	if rule.Step != 0 && into.Tenths != 0 {
		off, err := times(rule.Step*quantity.Price(into.Tenths), payable)
		if err != nil {
			return fmt.Errorf("moisture step: %w", err)
		}
		into.Step = -off
	}
	into.Gross = into.Honey + into.Step
	return t.charge(net, into)
}

func (t *Table) charge(net quantity.Mass, into *Amounts) error {
	into.Charges, into.Net = into.Charges[:0], into.Gross
	for i := range t.Schedule.Charges {
		c := &t.Schedule.Charges[i]
		off, err := c.of(net, into.Payable)
		if err != nil {
			return fmt.Errorf("charge %s: %w", c.Code, err)
		}
		into.Charges = append(into.Charges, -off)
		into.Net -= off
	}
	return nil
}

func (c *Charge) of(net, payable quantity.Mass) (quantity.Money, error) {
	switch c.Basis {
	case BasisNet:
		return times(c.Rate, net)
	case BasisPayable:
		return times(c.Rate, payable)
	default:
		return c.Amount, nil
	}
}

// A price below this times a mass below that stays inside 63 bits.
const (
	smallPrice       = quantity.Price(1) << 30
	smallMass        = quantity.Mass(1) << 32
	perMinorUnit     = 10_000_000
	halfPerMinorUnit = perMinorUnit / 2
)

// times is Price.Times, four times as fast for the numbers of a barrel: the division by a constant is a multiplication.
func times(p quantity.Price, m quantity.Mass) (quantity.Money, error) {
	if p < 0 || m < 0 || p >= smallPrice || m >= smallMass {
		return p.Times(m)
	}
	return quantity.Money((int64(p)*int64(m) + halfPerMinorUnit) / perMinorUnit), nil
}
