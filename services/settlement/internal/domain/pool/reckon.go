package pool

import (
	"bytes"
	"cmp"
	"fmt"
	"math/big"
	"slices"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// Heap is the barrels of one class that weigh the same. A season has a few thousand heaps however many barrels it has, and
// they say all a price depends on.
type Heap struct {
	// Class is the index of its class in the head.
	Class int
	// Payable is what one of the barrels weighs.
	Payable quantity.Mass
	Barrels int64
	// Step is what came off all of them for water besides the weight: zero or negative.
	Step quantity.Money
}

// Heaps sorts barrels by class and weight.
func Heaps(barrels []Barrel) []Heap {
	type kind struct {
		class   int
		payable quantity.Mass
	}
	place := map[kind]int{}
	var out []Heap
	for i := range barrels {
		b := &barrels[i]
		at, found := place[kind{b.Class, b.Payable}]
		if !found {
			at = len(out)
			place[kind{b.Class, b.Payable}] = at
			out = append(out, Heap{Class: b.Class, Payable: b.Payable})
		}
		out[at].Barrels++
		out[at].Step += b.Step
	}
	return out
}

// Reckoning is a closing under way: its prices are known, and its barrels come one after the other. It holds what each
// member comes to and no barrel.
type Reckoning struct {
	head    Head
	summary Summary
	members map[string]*MemberResult
	// places are the same by place, as far as places are known.
	places  []*MemberResult
	lines   []Line
	last    uuid.UUID
	barrels int
	payable quantity.Mass
	sum     quantity.Money
}

// Reckon declares the prices of a pool from its heaps, in any order. head must be canonical. Errors: *domain.StateError
// where there is no honey or a class would be priced below zero; quantity.ErrRange.
func Reckon(head Head, heaps []Heap) (*Reckoning, error) {
	r := &Reckoning{head: head, members: map[string]*MemberResult{}}
	s := &r.summary
	s.LeftOut = head.LeftOut
	for _, e := range head.Entries {
		s.Distributable += e.Amount
	}
	for _, h := range heaps {
		if err := head.knows(h.Class); err != nil {
			return nil, err
		}
		s.Barrels += int(h.Barrels)
		s.Payable += quantity.Mass(h.Barrels) * h.Payable
	}
	if s.Payable <= 0 {
		return nil, head.forbids("NO_HONEY", "the pool holds no priced barrel yet; there is nothing to divide by")
	}
	base := head.base(heaps, s)
	// The floor usually fits at once. Half cents of many lines may add up to more than flooring left over; then the next
	// lower price is declared, because a pool must never promise what it has not got.
	for {
		if err := head.at(base, heaps, s); err != nil {
			return nil, err
		}
		if s.Residual >= 0 {
			return r, nil
		}
		base -= declaredStep
	}
}

// base is (distributable + what was kept for water − Σ weight × differential) ÷ Σ weight, rounded down to a declared price.
func (h Head) base(heaps []Heap, s *Summary) quantity.Price {
	weights, kept := make([]quantity.Mass, len(h.Classes)), quantity.Money(0)
	for _, heap := range heaps {
		weights[heap.Class] += quantity.Mass(heap.Barrels) * heap.Payable
		kept -= heap.Step
	}
	total := new(big.Int).Mul(big.NewInt(int64(s.Distributable+kept)), big.NewInt(minorUnit))
	for i, w := range weights {
		total.Sub(total, new(big.Int).Mul(big.NewInt(int64(w)), big.NewInt(int64(h.Classes[i].Differential))))
	}
	per := new(big.Int).Mul(big.NewInt(int64(s.Payable)), big.NewInt(declaredStep))
	// Div and not Quo: it rounds down below zero too.
	steps := new(big.Int).Div(total, per)
	return quantity.Price(steps.Int64()) * declaredStep
}

// at sums what all barrels are worth at one base price, each rounded by itself.
func (h Head) at(base quantity.Price, heaps []Heap, s *Summary) error {
	s.Base, s.Classes, s.ToMembers = base, s.Classes[:0], 0
	for _, c := range h.Classes {
		s.Classes = append(s.Classes, ClassResult{Class: c, Price: base + c.Differential})
	}
	for _, heap := range heaps {
		c := &s.Classes[heap.Class]
		c.Barrels, c.Payable = c.Barrels+int(heap.Barrels), c.Payable+quantity.Mass(heap.Barrels)*heap.Payable
		if c.Price < 0 {
			continue
		}
		worth, err := c.Price.Times(heap.Payable)
		if err != nil {
			return fmt.Errorf("value barrels of %v: %w", heap.Payable, err)
		}
		s.ToMembers += quantity.Money(heap.Barrels)*worth + heap.Step
	}
	for _, c := range s.Classes {
		if c.Barrels > 0 && c.Price < 0 {
			return h.forbids("PRICE_BELOW_ZERO", fmt.Sprintf("%s would be priced at %v for each unit of weight: expenses are more than the honey bears; check the entries and differentials",
				domain.ClassInWords(cmp.Or(c.Variety, "any source"), c.ColorClass, c.Grade), c.Price))
		}
	}
	s.Residual = s.Distributable - s.ToMembers
	return nil
}

// Prices are the sums of the closing and its declared prices; members' sums are filled in by Finish.
func (r *Reckoning) Prices() *Summary { return &r.summary }

// Value gives what the owners of the next barrel get, in the order of its owners. Barrels come in ascending order, each
// once, with their owners in the order of members. The lines are good until the next call. Errors: *OrderError,
// quantity.ErrRange.
func (r *Reckoning) Value(b *Barrel) ([]Line, error) {
	if r.barrels > 0 && bytes.Compare(r.last[:], b.Barrel[:]) >= 0 {
		return nil, &OrderError{Before: r.last, Barrel: b.Barrel}
	}
	if err := r.head.knows(b.Class); err != nil {
		return nil, err
	}
	r.last, r.barrels, r.payable = b.Barrel, r.barrels+1, r.payable+b.Payable
	var err error
	if r.lines, err = b.value(r.summary.Classes[b.Class].Price, r.lines[:0]); err != nil {
		return nil, err
	}
	if len(b.Owners) == 1 {
		r.count(&b.Owners[0], &r.lines[0], b.Payable)
		return r.lines, nil
	}
	parts, err := shared(b.Payable, b.Owners)
	if err != nil {
		return nil, fmt.Errorf("share the weight of barrel %s: %w", b.Barrel, err)
	}
	for i := range r.lines {
		r.count(&b.Owners[i], &r.lines[i], parts[i].Amount)
	}
	return r.lines, nil
}

// count adds a line to what its member comes to.
func (r *Reckoning) count(o *Owner, l *Line, payable quantity.Mass) {
	m := r.member(o)
	m.Barrels++
	m.Payable, m.Value, m.Credited = m.Payable+payable, m.Value+l.Value, m.Credited+l.Credited
	r.sum += l.Value
}

// member is what an owner comes to so far.
func (r *Reckoning) member(o *Owner) *MemberResult {
	if o.Place < len(r.places) {
		if m := r.places[o.Place]; m != nil && m.Member == o.Member {
			return m
		}
	}
	m := r.members[o.Member]
	if m == nil {
		m = &MemberResult{Member: o.Member}
		r.members[o.Member] = m
	}
	if o.Place > 0 {
		r.places = append(r.places, make([]*MemberResult, max(0, o.Place+1-len(r.places)))...)
		r.places[o.Place] = m
	}
	return m
}

// OrderError means that barrels came in another order than the one they are fingerprinted in, or one came twice.
type OrderError struct{ Before, Barrel uuid.UUID }

func (e *OrderError) Error() string {
	return fmt.Sprintf("barrel %s came after barrel %s; barrels are valued in ascending order, each once", e.Barrel, e.Before)
}

// Finish sums the members, by name, and compares every total with what it is made of. Errors: *domain.TotalError.
func (r *Reckoning) Finish() (*Summary, []MemberResult, error) {
	s := &r.summary
	members := make([]MemberResult, 0, len(r.members))
	for _, m := range r.members {
		m.Due, m.Receivable = max(m.Value-m.Credited, 0), max(m.Credited-m.Value, 0)
		members = append(members, *m)
		s.Credited, s.Due, s.Receivable = s.Credited+m.Credited, s.Due+m.Due, s.Receivable+m.Receivable
	}
	slices.SortFunc(members, func(a, b MemberResult) int { return cmp.Compare(a.Member, b.Member) })
	s.Members = len(members)
	// The heaps and the barrels were counted by different hands.
	if r.barrels != s.Barrels || r.payable != s.Payable {
		return nil, nil, &domain.TotalError{What: "the weight of all barrels", Want: quantity.Money(s.Payable), Got: quantity.Money(r.payable)}
	}
	return s, members, s.check(r.sum, members)
}

// value appends a barrel's weight times its price, rounded once, less what came off for water, shared by its owners.
func (b *Barrel) value(price quantity.Price, lines []Line) ([]Line, error) {
	worth, err := price.Times(b.Payable)
	if err != nil {
		return nil, fmt.Errorf("value barrel %s: %w", b.Barrel, err)
	}
	if len(b.Owners) == 1 { // as most are: what it gets need not be divided
		o := &b.Owners[0]
		return append(lines, Line{Barrel: b.Barrel, Member: o.Member, Value: worth + b.Step, Credited: o.Credited}), nil
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

// shared divides by the owners' weights.
func shared[T ~int64](total T, owners []Owner) ([]quantity.Portion[T], error) {
	weights := make([]int64, len(owners))
	for i, o := range owners {
		weights[i] = o.Weight
	}
	return quantity.Portions(total, weights)
}

// knows refuses a class that is not there, which only changed records can name.
func (h Head) knows(class int) error {
	if class < 0 || class >= len(h.Classes) {
		return fmt.Errorf("class %d of pool %s is none of its %d", class, h.Pool, len(h.Classes))
	}
	return nil
}

func (h Head) forbids(state, message string) error {
	return &domain.StateError{Resource: "pools/" + h.Pool.String(), State: state, Message: message}
}
