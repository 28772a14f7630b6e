package main

import (
	"fmt"
	"math/big"
	"slices"

	"barrelhead.example/services/inventory/internal/domain/blend"
)

// checked compares a plan with every limit by its definition, in whole numbers of any size and without the planner's rows.
func checked(orders []blend.Order, barrels []blend.Barrel, plan [][]string) error {
	known, used := byID(barrels), map[string]bool{}
	for n := range orders {
		o, sums := &orders[n], newSums()
		for _, id := range plan[n] {
			if used[id] {
				return fmt.Errorf("barrel %s is used twice", id)
			}
			used[id] = true
			sums.add(o, known[id])
		}
		if broken := sums.broken(o); len(broken) > 0 {
			return fmt.Errorf("order %s %v", o.ID, broken)
		}
	}
	return nil
}

// sums add up a charge: weight, and weight times what is averaged.
type sums struct {
	weight, water, color, share *big.Int
	aged                        int64
	members                     map[string]bool
}

func newSums() *sums {
	return &sums{new(big.Int), new(big.Int), new(big.Int), new(big.Int), 0, map[string]bool{}}
}

func (s *sums) add(o *blend.Order, b *blend.Barrel) {
	w := big.NewInt(int64(b.Weight))
	s.weight.Add(s.weight, w)
	s.water.Add(s.water, new(big.Int).Mul(w, big.NewInt(int64(b.Moisture))))
	s.color.Add(s.color, new(big.Int).Mul(w, big.NewInt(int64(b.Density))))
	if b.Variety == o.Variety {
		s.share.Add(s.share, new(big.Int).Mul(w, big.NewInt(100_00)))
	}
	if b.CropYear <= o.AgedCropYear {
		s.aged++
	}
	s.members[b.Member] = true
}

// broken says which limits the charge breaks.
func (s *sums) broken(o *blend.Order) []string {
	than := func(sum *big.Int, limit int64) int { return sum.Cmp(new(big.Int).Mul(s.weight, big.NewInt(limit))) }
	return slices.DeleteFunc([]string{
		when(s.weight.Cmp(big.NewInt(int64(o.MinWeight))) < 0, "is too light"),
		when(s.weight.Cmp(big.NewInt(int64(o.MaxWeight))) > 0, "is too heavy"),
		when(o.MinMoisture != nil && than(s.water, int64(deref(o.MinMoisture))) < 0, "is too dry"),
		when(o.MaxMoisture != nil && than(s.water, int64(deref(o.MaxMoisture))) > 0, "is too wet"),
		when(o.MinDensity != nil && than(s.color, int64(deref(o.MinDensity))) < 0, "is too pale"),
		when(o.MaxDensity != nil && than(s.color, int64(deref(o.MaxDensity))) > 0, "is too dark"),
		when(than(s.share, int64(o.MinShare)) < 0, "has too little of its source"),
		when(o.MaxAged != nil && s.aged > deref(o.MaxAged), "has too many old barrels"),
		when(o.MaxMembers > 0 && int64(len(s.members)) > o.MaxMembers, "has too many members"),
	}, func(text string) bool { return text == "" })
}

func deref[T any](v *T) (out T) {
	if v != nil {
		out = *v
	}
	return out
}

func when(is bool, text string) string {
	if is {
		return text
	}
	return ""
}
