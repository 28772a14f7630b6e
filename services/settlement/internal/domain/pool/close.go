package pool

import (
	"cmp"
	"fmt"
	"math/big"
	"slices"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

const (
	// declaredStep is the fifth digit after the point, in which prices are declared.
	declaredStep = 10
	// One minor unit in thousandths of a unit of mass times millionths of the currency.
	minorUnit = 10_000_000
)

// ClassResult is a class with its declared price.
type ClassResult struct {
	Class
	Price   quantity.Price `json:"price"`
	Barrels int            `json:"barrels"`
	Payable quantity.Mass  `json:"payable"`
}

// Line is what one owner's part of one barrel is worth.
type Line struct {
	Barrel uuid.UUID      `json:"barrel"`
	Member string         `json:"member"`
	Value  quantity.Money `json:"value"`
	// Credited is what was credited before.
	Credited quantity.Money `json:"credited"`
	// Odd is true where the part of a shared barrel got the odd cent.
	Odd bool `json:"odd,omitempty"`
}

// MemberResult is what one member comes to.
type MemberResult struct {
	Member     string         `json:"member"`
	Barrels    int            `json:"barrels"`
	Payable    quantity.Mass  `json:"payable"`
	Value      quantity.Money `json:"value"`
	Credited   quantity.Money `json:"credited"`
	Due        quantity.Money `json:"due"`
	Receivable quantity.Money `json:"receivable"`
}

// Result is a closing.
type Result struct {
	Base          quantity.Price `json:"base"`
	Classes       []ClassResult  `json:"classes"`
	Lines         []Line         `json:"lines"`
	Members       []MemberResult `json:"members"`
	Payable       quantity.Mass  `json:"payable"`
	Distributable quantity.Money `json:"distributable"`
	ToMembers     quantity.Money `json:"to_members"`
	Residual      quantity.Money `json:"residual"`
	Credited      quantity.Money `json:"credited"`
	Due           quantity.Money `json:"due"`
	Receivable    quantity.Money `json:"receivable"`
	// Barrels counts those in it, LeftOut those of the pool without an advance.
	Barrels int `json:"barrels"`
	LeftOut int `json:"left_out"`
}

// Close solves a pool. Errors: *domain.StateError where there is no honey or a class would be priced below zero;
// *domain.TotalError where a total disagrees, which no input should bring about.
func Close(in Input) (*Result, error) {
	in = in.Canonical()
	r := &Result{Barrels: len(in.Barrels), LeftOut: in.LeftOut}
	for _, e := range in.Entries {
		r.Distributable += e.Amount
	}
	for _, b := range in.Barrels {
		r.Payable += b.Payable
	}
	if r.Payable <= 0 {
		return nil, in.forbids("NO_HONEY", "the pool holds no priced barrel yet; there is nothing to divide by")
	}
	base := in.base(r)
	// The floor usually fits at once. Half cents of many lines may add up to more than flooring left over; then the next
	// lower price is declared, because a pool must never promise what it has not got.
	for {
		if err := in.at(base, r); err != nil {
			return nil, err
		}
		if r.Residual >= 0 {
			break
		}
		base -= declaredStep
	}
	in.members(r)
	return r, r.Check()
}

// base is (distributable + what was kept for water − Σ weight × differential) ÷ Σ weight, rounded down to a declared price.
func (in Input) base(r *Result) quantity.Price {
	weights, kept := make([]quantity.Mass, len(in.Classes)), quantity.Money(0)
	for _, b := range in.Barrels {
		weights[b.Class] += b.Payable
		kept -= b.Step
	}
	total := new(big.Int).Mul(big.NewInt(int64(r.Distributable+kept)), big.NewInt(minorUnit))
	for i, w := range weights {
		total.Sub(total, new(big.Int).Mul(big.NewInt(int64(w)), big.NewInt(int64(in.Classes[i].Differential))))
	}
	per := new(big.Int).Mul(big.NewInt(int64(r.Payable)), big.NewInt(declaredStep))
	// Div and not Quo: it rounds down below zero too.
	steps := new(big.Int).Div(total, per)
	return quantity.Price(steps.Int64()) * declaredStep
}

// at values every barrel at one base price.
func (in Input) at(base quantity.Price, r *Result) error {
	r.Base, r.Classes, r.Lines, r.ToMembers = base, r.Classes[:0], r.Lines[:0], 0
	for _, c := range in.Classes {
		price := base + c.Differential
		r.Classes = append(r.Classes, ClassResult{Class: c, Price: price})
	}
	for _, b := range in.Barrels {
		c := &r.Classes[b.Class]
		c.Barrels, c.Payable = c.Barrels+1, c.Payable+b.Payable
		if c.Price < 0 {
			return in.forbids("PRICE_BELOW_ZERO", fmt.Sprintf("%s, %s, grade %s would be priced at %v: expenses are more than the honey bears; check the entries and differentials",
				cmp.Or(c.Variety, "any source"), c.ColorClass, c.Grade, c.Price))
		}
		from := len(r.Lines)
		var err error
		if r.Lines, err = b.value(c.Price, r.Lines); err != nil {
			return err
		}
		for _, l := range r.Lines[from:] {
			r.ToMembers += l.Value
		}
	}
	r.Residual = r.Distributable - r.ToMembers
	return nil
}

// value appends a barrel's weight times its price, rounded once, less what came off for water, shared by its owners.
func (b *Barrel) value(price quantity.Price, lines []Line) ([]Line, error) {
	worth, err := price.Times(b.Payable)
	if err != nil {
		return nil, fmt.Errorf("value barrel %s: %w", b.Barrel, err)
	}
	parts, err := shared(worth+b.Step, b.Owners)
	if err != nil {
		return nil, fmt.Errorf("share barrel %s: %w", b.Barrel, err)
	}
	for i, p := range parts {
		lines = append(lines, Line{Barrel: b.Barrel, Member: b.Owners[i].Member, Value: p.Amount, Credited: b.Owners[i].Credited, Odd: p.Odd})
	}
	return lines, nil
}

// shared divides by the owners' weights; most barrels have one owner, who gets everything whatever the weight.
func shared[T ~int64](total T, owners []Owner) ([]quantity.Portion[T], error) {
	if len(owners) == 1 {
		return []quantity.Portion[T]{{Amount: total}}, nil
	}
	weights := make([]int64, len(owners))
	for i, o := range owners {
		weights[i] = o.Weight
	}
	return quantity.Portions(total, weights)
}

func (in Input) members(r *Result) {
	byName := map[string]*MemberResult{}
	next := 0
	for _, b := range in.Barrels {
		// The same weights shared the value already, so this cannot fail.
		parts, _ := shared(b.Payable, b.Owners)
		for i := range b.Owners {
			l := r.Lines[next]
			next++
			m := byName[l.Member]
			if m == nil {
				m = &MemberResult{Member: l.Member}
				byName[l.Member] = m
			}
			m.Barrels++
			m.Payable, m.Value, m.Credited = m.Payable+parts[i].Amount, m.Value+l.Value, m.Credited+l.Credited
		}
	}
	for _, m := range byName {
		m.Due, m.Receivable = max(m.Value-m.Credited, 0), max(m.Credited-m.Value, 0)
		r.Members = append(r.Members, *m)
		r.Credited, r.Due, r.Receivable = r.Credited+m.Credited, r.Due+m.Due, r.Receivable+m.Receivable
	}
	slices.SortFunc(r.Members, func(a, b MemberResult) int { return cmp.Compare(a.Member, b.Member) })
}

func (in Input) forbids(state, message string) error {
	return &domain.StateError{Resource: "pools/" + in.Pool.String(), State: state, Message: message}
}
