package blend

import (
	"slices"

	"barrelhead.example/services/kit/quantity"
)

// Figures are what a blend is predicted to be. Averages are rounded half up for reading; whether a limit is kept is never
// read from them.
type Figures struct {
	// Barrels are the whole ones.
	Barrels  int64
	Weight   quantity.Mass
	Moisture quantity.Percent
	Density  Density
	// Share of the mass that is of the order's floral source; 0 if it asks for none.
	Share   quantity.Percent
	Aged    int64
	Members int64
}

func figuresOf(p *problem, chosen []int, rest *fraction) Figures {
	f := Figures{Barrels: int64(len(chosen))}
	var water, color, share int64
	add := func(b *Barrel, weight quantity.Mass) {
		w := int64(weight)
		f.Weight += weight
		f.Aged += boolean(p.order.aged(b))
		water += int64(b.Moisture) * w
		color += int64(b.Density) * w
		share += p.share(b) * w
	}
	all := chosen
	for _, j := range chosen {
		add(p.barrels[j], p.barrels[j].Weight)
	}
	if rest != nil {
		all = append(slices.Clone(chosen), rest.column)
		add(p.barrels[rest.column], rest.weight)
	}
	f.Members = int64(len(p.membersOf(all)))
	if w := int64(f.Weight); w > 0 {
		f.Moisture = quantity.Percent(mean(water, w))
		f.Density = Density(mean(color, w))
		if p.order.Variety != "" {
			f.Share = quantity.Percent(mean(share, w))
		}
	}
	return f
}

func mean(sum, weight int64) int64 { return (2*sum + weight) / (2 * weight) }
