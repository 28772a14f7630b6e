package web

import (
	"strings"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/quantity"
)

// Pictures are drawn in whole units of their own canvas, from the exact values of the page beside them.

// gauge shows water against the limit up to which full weight is paid.
type gauge struct {
	Value, Base      string
	ValueX, BaseX    int64
	TextX, BaseTextX int64
	HasBase, Over    bool
	Ticks            []tick
	Barrel           string
}

type tick struct {
	X     int64
	Label string
}

// The gauge runs from 13 to 23 percent over 400 units: nearly all honey lies inside, and what does not sits at its end.
const (
	gaugeLow   = quantity.Percent(1300)
	gaugeHigh  = quantity.Percent(2300)
	gaugeWidth = 400
	// textReach is half the width of the longest text, which must not leave the canvas.
	textReach = 95
)

// barrelOutline is a barrel on its side.
const barrelOutline = "M14 46Q200 34 386 46Q398 70 386 94Q200 106 14 94Q2 70 14 46Z"

func drawGauge(inputs map[string]string) *gauge {
	value, err := quantity.ParsePercent(inputs["moisture_percent"])
	if err != nil {
		return nil
	}
	g := &gauge{Value: inputs["moisture_percent"], ValueX: gaugeX(value), TextX: inside(gaugeX(value)), Barrel: barrelOutline}
	if base, err := quantity.ParsePercent(inputs["base_percent"]); err == nil {
		g.HasBase, g.Base, g.BaseX, g.BaseTextX, g.Over = true, inputs["base_percent"], gaugeX(base), inside(gaugeX(base)), value > base
	}
	for p := quantity.Percent(1400); p <= 2200; p += 200 {
		// A number under the line of the limit could not be read.
		if x := gaugeX(p); !g.HasBase || x < g.BaseX-14 || x > g.BaseX+14 {
			g.Ticks = append(g.Ticks, tick{X: x, Label: strings.TrimSuffix(p.String(), ".0")})
		}
	}
	return g
}

func gaugeX(p quantity.Percent) int64 {
	p = min(max(p, gaugeLow), gaugeHigh)
	return int64(p-gaugeLow) * gaugeWidth / int64(gaugeHigh-gaugeLow)
}

func inside(x int64) int64 { return min(max(x, textReach), gaugeWidth-textReach) }

// bar is the stock of one floral source, parted by colour.
type bar struct {
	Variety string
	// Address leads to what it is made of; empty where it leads nowhere.
	Address string
	Net     string
	Barrels int32
	Held    int32
	Y       int
	Width   int64
	Parts   []part
}

// part is one colour class of a bar. Class names a colour in the style sheet.
type part struct {
	Class, Label string
	X, Width     int64
}

type bars struct {
	Height int
	Rows   []bar
	Legend []part
}

const (
	barsWidth = 600
	barPitch  = 76
)

// colourOrder runs from the lightest; the empty one is not graded yet.
var colourOrder = []string{"WATER_WHITE", "EXTRA_WHITE", "WHITE", "EXTRA_LIGHT_AMBER", "LIGHT_AMBER", "AMBER", "DARK_AMBER", ""}

func drawBars(totals []*inventoryv1.StockTotal) *bars {
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
	drawn := &bars{Height: len(order) * barPitch}
	most := widest(nets)
	seen := map[string]bool{}
	for i, variety := range order {
		b := bar{Variety: variety, Barrels: counts[variety], Held: held[variety], Y: i * barPitch}
		b.Parts = partsOf(nets[variety], most, seen)
		b.Net = grouped(sum(nets[variety]).String()) + "\u00a0" + words(unit)
		for _, p := range b.Parts {
			b.Width += p.Width
		}
		drawn.Rows = append(drawn.Rows, b)
	}
	for _, class := range colourOrder {
		if seen[class] {
			drawn.Legend = append(drawn.Legend, part{Class: colourClass(class), Label: colourLabel(class)})
		}
	}
	return drawn
}

func partsOf(nets map[string]quantity.Mass, most quantity.Mass, seen map[string]bool) []part {
	var parts []part
	var before quantity.Mass
	for _, class := range colourOrder {
		net := nets[class]
		if net <= 0 {
			continue
		}
		seen[class] = true
		// Ends are computed, not widths, so that rounding never leaves a gap.
		start, end := share(before, most), share(before+net, most)
		parts = append(parts, part{Class: colourClass(class), Label: colourLabel(class), X: start, Width: end - start})
		before += net
	}
	return parts
}

func share(m, most quantity.Mass) int64 {
	x, err := quantity.MulDiv(int64(m), barsWidth, int64(most))
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
