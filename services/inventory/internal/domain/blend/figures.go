package blend

import (
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
	// HMF on the best-by day; nil while that of a barrel is not known.
	HMF *HMF
	// Groups are the shares of the order's groups.
	Groups []quantity.Percent
}

// tally adds up a blend exactly: mass times value.
type tally struct {
	weight, water, color, share, hmf int64
	groups                           []int64 // mass, by group of the order
	whole, aged, unknown             int64
	members                          map[string]bool
}

func (o *Order) tally(used []Used) tally {
	t := tally{members: map[string]bool{}, groups: make([]int64, len(o.Groups))}
	for _, u := range used {
		w := int64(u.Weight)
		t.weight += w
		t.water += int64(u.Barrel.Moisture) * w
		t.color += int64(u.Barrel.Density) * w
		t.share += boolean(u.Barrel.Variety == o.Variety) * w
		t.hmf += o.hmf(u.Barrel) * w
		t.aged += boolean(o.aged(u.Barrel))
		t.unknown += boolean(u.Barrel.HMF == nil)
		t.whole += boolean(u.Weight == u.Barrel.Weight)
		t.members[u.Barrel.Member] = true
		for i, g := range o.Groups {
			t.groups[i] += boolean(g.Barrels[u.Barrel.ID]) * w
		}
	}
	return t
}

// Used is a barrel of a blend and how much of it.
type Used struct {
	Barrel *Barrel
	Weight quantity.Mass
}

// used is what a choice of columns takes.
func (p *problem) used(chosen []int, rest *fraction) []Used {
	var out []Used
	for _, j := range chosen {
		out = append(out, Used{p.barrels[j], p.barrels[j].Weight})
	}
	if rest != nil {
		out = append(out, Used{p.barrels[rest.column], rest.weight})
	}
	return out
}

func figuresOf(p *problem, chosen []int, rest *fraction) Figures {
	t := p.order.tally(p.used(chosen, rest))
	f := Figures{Barrels: int64(len(chosen)), Weight: quantity.Mass(t.weight), Aged: t.aged, Members: int64(len(t.members))}
	if t.weight == 0 {
		return f
	}
	f.Moisture, f.Density = quantity.Percent(mean(t.water, t.weight)), Density(mean(t.color, t.weight))
	if p.order.Variety != "" {
		f.Share = quantity.Percent(mean(t.share*100_00, t.weight))
	}
	if t.unknown == 0 {
		hmf := HMF(mean(t.hmf, t.weight))
		f.HMF = &hmf
	}
	for _, g := range t.groups {
		f.Groups = append(f.Groups, quantity.Percent(mean(g*100_00, t.weight)))
	}
	return f
}

func mean(sum, weight int64) int64 { return (2*sum + weight) / (2 * weight) }
