package site

import (
	"strings"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/quantity"
)

// Pictures are drawn in whole units of their own canvas, from the exact values of the page beside them.

// Bar is the stock of one floral source, parted by colour.
type Bar struct {
	Variety string
	// Address leads to what it is made of; empty where it leads nowhere.
	Address string
	Net     string
	Barrels int32
	Held    int32
	Y       int
	Width   int64
	Parts   []Part
}

// Part is one colour class of a bar. Class names a colour in the style sheet.
type Part struct {
	Class, Label string
	X, Width     int64
}

// Bars is all stock by source, as long as each is heavy.
type Bars struct {
	Height int
	Rows   []Bar
	Legend []Part
}

// BarsWidth is that of the canvas.
const BarsWidth = 600

const barPitch = 76

// colourOrder runs from the lightest; the empty one is not graded yet.
var colourOrder = []string{"WATER_WHITE", "EXTRA_WHITE", "WHITE", "EXTRA_LIGHT_AMBER", "LIGHT_AMBER", "AMBER", "DARK_AMBER", ""}

// DrawBars draws the stock of each source.
func DrawBars(totals []*inventoryv1.StockTotal) *Bars {
	nets, unit := map[string]map[string]quantity.Mass{}, ""
	counts, held := map[string]int32{}, map[string]int32{}
	var order []string
	for _, t := range totals {
		net, err := quantity.ParseMass(t.GetNet().GetValue())
		if err != nil {
			continue
		}
		unit = t.GetNet().GetUnit()
		if nets[t.GetVariety()] == nil {
			nets[t.GetVariety()] = map[string]quantity.Mass{}
			order = append(order, t.GetVariety())
		}
		nets[t.GetVariety()][t.GetColorClass()] += net
		counts[t.GetVariety()] += t.GetBarrels()
		held[t.GetVariety()] += t.GetHeldBarrels()
	}
	drawn := &Bars{Height: len(order) * barPitch}
	most := widest(nets)
	seen := map[string]bool{}
	for i, variety := range order {
		b := Bar{Variety: variety, Barrels: counts[variety], Held: held[variety], Y: i * barPitch}
		b.Parts = partsOf(nets[variety], most, seen)
		b.Net = grouped(sum(nets[variety]).String()) + "\u00a0" + words(unit)
		for _, p := range b.Parts {
			b.Width += p.Width
		}
		drawn.Rows = append(drawn.Rows, b)
	}
	for _, class := range colourOrder {
		if seen[class] {
			drawn.Legend = append(drawn.Legend, Part{Class: colourClass(class), Label: colourLabel(class)})
		}
	}
	return drawn
}

func partsOf(nets map[string]quantity.Mass, most quantity.Mass, seen map[string]bool) []Part {
	var parts []Part
	var before quantity.Mass
	for _, class := range colourOrder {
		net := nets[class]
		if net <= 0 {
			continue
		}
		seen[class] = true
		// Ends are computed, not widths, so that rounding never leaves a gap.
		start, end := Share(before, most), Share(before+net, most)
		parts = append(parts, Part{Class: colourClass(class), Label: colourLabel(class), X: start, Width: end - start})
		before += net
	}
	return parts
}

// Share is the width of a part of a bar.
func Share(m, most quantity.Mass) int64 {
	x, err := quantity.MulDiv(int64(m), BarsWidth, int64(most))
	if err != nil {
		return 0
	}
	return x
}

func widest(nets map[string]map[string]quantity.Mass) quantity.Mass {
	most := quantity.Mass(1)
	for _, n := range nets {
		most = max(most, sum(n))
	}
	return most
}

func sum(nets map[string]quantity.Mass) quantity.Mass {
	var total quantity.Mass
	for _, n := range nets {
		total += n
	}
	return total
}

func colourClass(class string) string {
	if class == "" {
		return "honey-ungraded"
	}
	return "honey-" + strings.ReplaceAll(words(class), " ", "-")
}

func colourLabel(class string) string {
	if class == "" {
		return "not graded yet"
	}
	return words(class)
}
