package main

import (
	"fmt"
	"math/rand/v2"

	"barrelhead.example/services/inventory/internal/domain/blend"
	"barrelhead.example/services/kit/quantity"
)

// warehouse is a made-up stock of n barrels: every seventh variety, water from 15.8 to 19.2 %, eight barrels a member.
func warehouse(seed uint64, n int) []blend.Barrel {
	r := rand.New(rand.NewPCG(seed, 99)) //nolint:gosec // the same stock in every run
	varieties := []string{"clover", "clover", "basswood", "buckwheat", "goldenrod", "knapweed", "wildflower"}
	barrels := make([]blend.Barrel, n)
	for i := range barrels {
		mm := blend.Pfund(800 + r.IntN(9000))
		barrels[i] = blend.Barrel{
			ID: fmt.Sprintf("b-%05d", i), Weight: quantity.Mass(630_000 + r.IntN(260)*100),
			Moisture: quantity.Percent(1580 + r.IntN(34)*10), Density: blend.DensityOf(mm),
			Variety: varieties[r.IntN(len(varieties))], Member: fmt.Sprintf("members/M-%04d", r.IntN(n/8+1)),
			CropYear: 2025 + r.Int32N(2), Credit: quantity.Money(r.IntN(400) * 5),
			Value: quantity.Price(2_200_000 - int64(mm)*60 + int64(r.IntN(200_000))),
		}
	}
	return barrels
}

// charges are n orders that the stock can fill together, of at most half of it.
func charges(seed uint64, n, barrels int, few bool) []blend.Order {
	r := rand.New(rand.NewPCG(seed, 98)) //nolint:gosec // the same orders in every run
	orders := make([]blend.Order, n)
	for i := range orders {
		wet, dark := quantity.Percent(1690+r.IntN(5)*10), blend.DensityOf(blend.Pfund(5000+r.IntN(4)*1000))
		k := 1 + min(6+r.IntN(4)*3, max(1, barrels/2/n))
		least := quantity.Mass(k) * 640_000
		orders[i] = blend.Order{
			ID: fmt.Sprint("T-", i+1), MinWeight: least, MaxWeight: least + 150_000, MaxMoisture: &wet, MaxDensity: &dark,
		}
		if r.IntN(2) == 0 {
			orders[i].Variety, orders[i].MinShare = "clover", 51_00
		}
		if few {
			orders[i].MaxMembers = int64(3 + r.IntN(6))
		}
	}
	return orders
}
