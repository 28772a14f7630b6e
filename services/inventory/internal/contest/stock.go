package main

import (
	"fmt"
	"math/rand/v2"

	"barrelhead.example/services/inventory/internal/domain/blend"
	"barrelhead.example/services/kit/quantity"
)

// kind is a sort of stock with orders that go with it; instances take turns by their seed.
type kind uint64

const (
	even   kind = iota // every barrel for itself: water, colour, source and value by chance
	lots               // barrels of one delivery are alike in all but weight
	uneven             // weights from 400 to 660, wetter honey cheaper
	priced             // value by colour class only, so that many barrels are worth the same
	kinds
)

func (k kind) String() string { return [...]string{"even", "lots", "uneven", "priced"}[k] }

// warehouse is a made-up stock of n barrels, eight a member.
func warehouse(seed uint64, n int) []blend.Barrel {
	k := kind(seed) % kinds
	r := rand.New(rand.NewPCG(seed, 99)) //nolint:gosec // the same stock in every run
	barrels := make([]blend.Barrel, n)
	for i := range barrels {
		barrels[i] = filled(r, i, n)
		switch {
		case k == lots && i > 0 && r.IntN(4) > 0:
			alike(r, &barrels[i], &barrels[i-1])
		case k == uneven:
			barrels[i].Weight = quantity.Mass(400_000 + r.IntN(2600)*100)
			barrels[i].Value = quantity.Price(2_100_000 - int64(barrels[i].Moisture-1580)*500 + int64(r.IntN(400_000)))
		case k == priced:
			barrels[i].Value = quantity.Price(2_400_000 - int64(blend.PfundOf(barrels[i].Density))/1500*150_000)
		}
	}
	return barrels
}

// filled is a barrel with everything by chance: every seventh variety, water from 15.8 to 19.2 %.
func filled(r *rand.Rand, i, n int) blend.Barrel {
	varieties := []string{"clover", "clover", "basswood", "buckwheat", "goldenrod", "knapweed", "wildflower"}
	mm := blend.Pfund(800 + r.IntN(9000))
	return blend.Barrel{
		ID: fmt.Sprintf("b-%05d", i), Weight: quantity.Mass(630_000 + r.IntN(260)*100),
		Moisture: quantity.Percent(1580 + r.IntN(34)*10), Density: blend.DensityOf(mm),
		Variety: varieties[r.IntN(len(varieties))], Member: fmt.Sprintf("members/M-%04d", r.IntN(n/8+1)),
		CropYear: 2025 + r.Int32N(2), Credit: quantity.Money(r.IntN(400) * 5),
		Value: quantity.Price(2_200_000 - int64(mm)*60 + int64(r.IntN(200_000))),
	}
}

// alike makes a barrel one of the delivery of another.
func alike(r *rand.Rand, b, of *blend.Barrel) {
	b.Variety, b.Member, b.CropYear, b.Credit, b.Value = of.Variety, of.Member, of.CropYear, of.Credit, of.Value
	b.Moisture = of.Moisture + quantity.Percent(r.IntN(3)-1)*10
	b.Density = of.Density + blend.Density(r.IntN(200))
}

// charges are n orders, of at most half of the stock. Those of the even kind can usually be filled together.
func charges(seed uint64, n, barrels int, few bool) []blend.Order {
	k := kind(seed) % kinds
	r := rand.New(rand.NewPCG(seed, 98)) //nolint:gosec // the same orders in every run
	orders := make([]blend.Order, n)
	for i := range orders {
		wet, dark := quantity.Percent(1690+r.IntN(5)*10), blend.DensityOf(blend.Pfund(5000+r.IntN(4)*1000))
		count := 1 + min(6+r.IntN(4)*3, max(1, barrels/2/n))
		each := quantity.Mass(640_000)
		if k == uneven {
			each = 530_000
		}
		least := quantity.Mass(count) * each
		orders[i] = blend.Order{
			ID: fmt.Sprint("T-", i+1), MinWeight: least, MaxWeight: least + 150_000, MaxMoisture: &wet, MaxDensity: &dark,
		}
		if r.IntN(2) == 0 {
			orders[i].Variety, orders[i].MinShare = "clover", 51_00
		}
		if k != even {
			narrower(r, &orders[i], int64(count))
		}
		if few {
			orders[i].MaxMembers = int64(3 + r.IntN(6))
		}
	}
	return orders
}

// narrower adds limits: a least of water or colour, another source, a cap on old barrels, a narrower weight.
func narrower(r *rand.Rand, o *blend.Order, count int64) {
	if r.IntN(2) == 0 {
		dry := *o.MaxMoisture - quantity.Percent(20+r.IntN(4)*10)
		o.MinMoisture = &dry
	}
	if r.IntN(2) == 0 {
		light := *o.MaxDensity - 1500
		o.MinDensity = &light
	}
	if o.MinShare > 0 && r.IntN(2) == 0 {
		o.Variety, o.MinShare = []string{"basswood", "knapweed"}[r.IntN(2)], quantity.Percent(25+r.IntN(4)*5)*100
	}
	if r.IntN(3) == 0 {
		aged := count / 2
		o.MaxAged, o.AgedCropYear = &aged, 2025
	}
	o.MaxWeight = o.MinWeight + quantity.Mass(30_000+r.IntN(5)*40_000)
}
