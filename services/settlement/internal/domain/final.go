package domain

import (
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// Scope is which honey a pool takes: that of a crop year, of the named sources or of all that no other pool names.
type Scope struct {
	Pool      uuid.UUID
	CropYear  int
	Varieties []string
	// Elsewhere are the sources other open pools of the crop year name.
	Elsewhere []string
}

// Takes reports whether a barrel belongs to the pool.
func (s Scope) Takes(cropYear int, variety string) bool {
	if s.CropYear != cropYear {
		return false
	}
	if len(s.Varieties) > 0 {
		return slices.Contains(s.Varieties, variety)
	}
	return !slices.Contains(s.Elsewhere, variety)
}

// ClosedPool is a pool whose prices a released run has declared.
type ClosedPool struct {
	Run    uuid.UUID
	Number string
	Title  string
	prices *Table
}

// NewClosedPool prepares declared prices, one row for each class.
func NewClosedPool(run uuid.UUID, number, title string, rows []PriceRow) *ClosedPool {
	return &ClosedPool{Run: run, Number: number, Title: title, prices: Compile(&Schedule{Rows: rows})}
}

// Row is the declared price row of a class, or -1.
func (c *ClosedPool) Row(variety, color, grade string) int {
	return c.prices.Row(variety, color, grade)
}

// NewFinal is what a barrel is worth at the declared price beyond its advance. What came off the price for water stays off.
// It may be negative: that is owed and carried, and never collected by surprise.
func NewFinal(advance *Payout, c *ClosedPool, row int, terms Terms, at time.Time) (*Payout, error) {
	f := *advance
	f.ID = PayoutID(advance.Barrel, advance.Certificate, Final)
	f.Kind, f.Run, f.Time, f.Reason, f.Number = Final, c.Run, at, "", 0
	price := c.prices.Schedule.Rows[row].Advance
	worth, err := times(price, advance.Payable)
	if err != nil {
		return nil, fmt.Errorf("value barrel %s: %w", advance.Barrel.DrumTag, err)
	}
	f.Lines = []Line{f.atPoolPrice(c, row, worth, terms)}
	f.Gross = worth
	for _, l := range advance.Lines {
		if l.Kind == LineStep {
			f.Lines, f.Gross = append(f.Lines, l), f.Gross+l.Amount
		}
	}
	value := f.Gross
	f.Lines, f.Gross = append(f.Lines, creditedBefore(advance, terms)), f.Gross-advance.credited()
	f.Net = f.Gross
	f.Headline = finalHeadline(advance, value, terms)
	return &f, f.Check()
}

func (p *Payout) atPoolPrice(c *ClosedPool, row int, worth quantity.Money, terms Terms) Line {
	r, payable := c.prices.Schedule.Rows[row], p.Payable
	return Line{
		Kind: LineHoney, Description: sentence(inWords(p.Barrel.Variety, p.ColorClass, p.Grade)) + ", at the pool's price",
		Quantity: &payable, Rate: &r.Advance, Amount: worth,
		Why: Explanation{
			Rule:        fmt.Sprintf("The pool %q was closed by run %s. Every member's honey of a class has the same declared price.", c.Title, c.Number),
			Calculation: fmt.Sprintf("%s × %s = %s", terms.mass(payable), terms.price(r.Advance), terms.money(worth)),
			Authority:   "Settlement run " + c.Number, Certificate: "certificates/" + p.Certificate.String(), CertificateNumber: p.CertificateNumber,
			Inputs: map[string]string{
				"payable": terms.mass(payable), "price": terms.price(r.Advance), "run": c.Number,
				"price_row": inWords(r.Variety, r.ColorClass, r.Grade),
			},
		},
	}
}

func creditedBefore(advance *Payout, terms Terms) Line {
	l := Line{
		Kind: LineCredited, Description: "Credited by the advance before", Amount: -advance.credited(),
		Why: Explanation{
			Rule:        "What the advance has credited for the honey is part of its value and is not paid twice. Charges were taken with the advance.",
			Calculation: fmt.Sprintf("%s was credited for the honey of barrel %s, certificate %s; taken off", terms.money(advance.Gross), advance.Barrel.DrumTag, advance.CertificateNumber),
			Inputs:      map[string]string{"advance": advance.Name(), "credited": terms.money(advance.Gross)},
		},
	}
	if advance.Progressed != 0 {
		l.Description = "Credited by the advance and by progress payments before"
		l.Why.Rule = "What the advance and progress payments have credited for the honey is part of its value and is not paid twice. Charges were taken with the advance."
		l.Why.Calculation = fmt.Sprintf("%s by the advance + %s by progress payments = %s credited for the honey of barrel %s, certificate %s; taken off",
			terms.money(advance.Gross), terms.money(advance.Progressed), terms.money(advance.credited()), advance.Barrel.DrumTag, advance.CertificateNumber)
		l.Why.Inputs["credited"], l.Why.Inputs["progress"] = terms.money(advance.credited()), terms.money(advance.Progressed)
	}
	return l
}

func finalHeadline(advance *Payout, value quantity.Money, terms Terms) string {
	text := fmt.Sprintf("Barrel %s is worth %s at the pool's price, and %s was credited before: ",
		advance.Barrel.DrumTag, terms.money(value), terms.money(advance.credited()))
	if value < advance.credited() {
		return text + fmt.Sprintf("the advance was %s too much. You owe it; it is carried forward, and nothing is collected by surprise.", terms.money(advance.credited()-value))
	}
	return text + fmt.Sprintf("%s more is yours.", terms.money(value-advance.credited()))
}
