package blend

import (
	"barrelhead.example/services/kit/quantity"
)

// Figures are what a blend is predicted to be. Averages are rounded half up for reading; whether a limit is kept is never
// read from them.
type Figures struct {
	Barrels  int64
	Weight   quantity.Mass
	Moisture quantity.Percent
	Density  Density
	// Share of the mass that is of the order's floral source; 0 if it asks for none.
	Share   quantity.Percent
	Aged    int64
	Members int64
}

func figuresOf(p *problem, chosen []int) Figures {
	f := Figures{Barrels: int64(len(chosen)), Members: int64(len(p.membersOf(chosen)))}
	var water, color, share int64
	for _, j := range chosen {
		b := p.barrels[j]
		w := int64(b.Weight)
		f.Weight += b.Weight
		f.Aged += boolean(p.order.aged(b))
		water += int64(b.Moisture) * w
		color += int64(b.Density) * w
		share += p.share(b) * w
	}
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
