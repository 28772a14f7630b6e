package pool

import (
	"cmp"
	"fmt"
	"slices"

	"barrelhead.example/services/kit/quantity"
)

// fewest is how many members a group must have to be shown (common practice of statistical offices, no source).
const fewest = 5

// bands are the groups by barrels. They are fixed: freely chosen ones could be subtracted from one another.
var bands = []struct {
	most        int
	description string
}{{1, "1 barrel"}, {10, "2 to 10 barrels"}, {50, "11 to 50 barrels"}, {1 << 30, "more than 50 barrels"}}

// Group is the members who brought about as much. One that is suppressed has its description only.
type Group struct {
	Description string
	Suppressed  bool
	Members     int
	Payable     quantity.Mass
	Value       quantity.Money
}

// Shown reports whether the group has enough members that none can be told from it.
func (g Group) Shown() bool { return g.Members >= fewest }

// Standing is a closed pool with one member's part of it.
type Standing struct {
	Title       string
	Run         string
	Fingerprint string
	All         Group
	Own         Group
	// Classes are all honey of the pool by class.
	Classes []ClassResult
}

// Average is the value of a unit of weight.
func (g Group) Average() (quantity.Price, error) {
	const scale = 10_000_000 // minor units per thousandth, in millionths of the currency per unit
	p, err := quantity.MulDiv(int64(g.Value), scale, int64(g.Payable))
	if err != nil {
		return 0, fmt.Errorf("average of %s: %w", g.Description, err)
	}
	return quantity.Price(p), nil
}

// Groups compares members by what they brought. Small groups are suppressed; where what is suppressed would still be fewer
// than five members altogether, the smallest group shown is too, because a run's totals less all that is shown would give
// them away.
func Groups(members []MemberResult) []Group {
	out := make([]Group, len(bands))
	for i, b := range bands {
		out[i].Description = b.description
	}
	for _, m := range members {
		i := slices.IndexFunc(bands, func(b struct {
			most        int
			description string
		},
		) bool {
			return m.Barrels <= b.most
		})
		g := &out[i]
		g.Members, g.Payable, g.Value = g.Members+1, g.Payable+m.Payable, g.Value+m.Value
	}
	hidden := 0
	for i := range out {
		if out[i].Members > 0 && out[i].Members < fewest {
			out[i].Suppressed = true
			hidden += out[i].Members
		}
	}
	if hidden > 0 && hidden < fewest || hidden > 0 && count(out) == 1 {
		hideSmallest(out)
	}
	for i, g := range out {
		if g.Suppressed {
			out[i] = Group{Description: g.Description, Suppressed: true}
		}
	}
	return out
}

// count is how many groups are suppressed.
func count(groups []Group) (n int) {
	for _, g := range groups {
		if g.Suppressed {
			n++
		}
	}
	return n
}

func hideSmallest(groups []Group) {
	var shown []*Group
	for i := range groups {
		if groups[i].Members > 0 && !groups[i].Suppressed {
			shown = append(shown, &groups[i])
		}
	}
	if len(shown) > 0 {
		slices.MinFunc(shown, func(a, b *Group) int { return cmp.Compare(a.Members, b.Members) }).Suppressed = true
	}
}
