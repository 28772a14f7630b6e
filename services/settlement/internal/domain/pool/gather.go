package pool

import (
	"cmp"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// Harvested is one owner's part of a barrel that has an advance.
type Harvested struct {
	Barrel  uuid.UUID
	Advance uuid.UUID
	Member  string
	// Place is that of an Owner.
	Place int
	// Share is the owner's, in ten-thousandths of a percent.
	Share int64
	Kind
	// Payable and Step are those of the part.
	Payable  quantity.Mass
	Step     quantity.Money
	Credited quantity.Money
}

// Kind is what decides a class.
type Kind struct{ Variety, ColorClass, Grade string }

// Kept is one owner's part of a barrel as a run keeps it: what went in, and what came out.
type Kept struct {
	Harvested
	// Class is the index of its class in the head.
	Class int
	Value quantity.Money
	Odd   bool
}

// NewHead is everything a closing depends on but its barrels and those left out.
func NewHead(a *Account, entries []*Record) Head {
	h := Head{Rules: Rules, Pool: a.ID, Classes: a.Classes}
	for _, e := range entries {
		h.Entries = append(h.Entries, Entry{Entry: e.ID, Amount: e.Signed()})
	}
	return h.Canonical()
}

// LeftOut counts the barrels of a pool without an advance. waiting counts those of the crop year by floral source.
func LeftOut(a *Account, scope domain.Scope, waiting map[string]int) (sum int) {
	for variety, n := range waiting {
		if scope.Takes(a.CropYear, variety) {
			sum += n
		}
	}
	return sum
}

// Sorter finds the class of honey in a head.
type Sorter struct {
	head  Head
	table *domain.Table
}

// NewSorter prepares the classes of a canonical head.
func NewSorter(head Head) *Sorter {
	rows := make([]domain.PriceRow, len(head.Classes))
	for i, c := range head.Classes {
		rows[i] = domain.PriceRow{Variety: c.Variety, ColorClass: c.ColorClass, Grade: c.Grade}
	}
	return &Sorter{head, domain.Compile(&domain.Schedule{Rows: rows})}
}

// Class is the index of a class. Errors: *domain.StateError where the pool has no differential for it.
func (s *Sorter) Class(k Kind) (int, error) {
	class := s.table.Row(k.Variety, k.ColorClass, k.Grade)
	if class < 0 {
		return 0, s.head.forbids("NO_DIFFERENTIAL", fmt.Sprintf("the pool has no differential for %s, %s, grade %s, and holds such honey", k.Variety, k.ColorClass, k.Grade))
	}
	return class, nil
}

// Gathering puts owners' parts together to barrels. It holds one barrel at a time.
type Gathering struct {
	// Each is told every barrel with its parts in the order of members, which are good until it returns.
	Each  func(b *Barrel, parts []Kept) error
	parts []Kept
	b     Barrel
}

// Add is the next part; those of one barrel follow one another.
func (g *Gathering) Add(k Kept) error {
	if len(g.parts) > 0 && g.parts[0].Barrel != k.Barrel {
		if err := g.End(); err != nil {
			return err
		}
	}
	g.parts = append(g.parts, k)
	return nil
}

// End hands out the last barrel.
func (g *Gathering) End() error {
	if len(g.parts) == 0 {
		return nil
	}
	if len(g.parts) > 1 {
		slices.SortFunc(g.parts, func(x, y Kept) int { return cmp.Compare(x.Member, y.Member) })
	}
	first := &g.parts[0]
	g.b = Barrel{Barrel: first.Barrel, Advance: first.Advance, Class: first.Class, Owners: g.b.Owners[:0]}
	for i := range g.parts {
		p := &g.parts[i]
		owner := Owner{Member: p.Member, Place: p.Place, Weight: 1, Credited: p.Credited}
		if p.Share != domain.WholeShare {
			owner.Weight, owner.Advance = p.Share, p.Advance
		}
		g.b.Payable, g.b.Step = g.b.Payable+p.Payable, g.b.Step+p.Step
		g.b.Owners = append(g.b.Owners, owner)
	}
	err := g.Each(&g.b, g.parts)
	g.parts = g.parts[:0]
	return err
}
