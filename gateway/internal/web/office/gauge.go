package office

import (
	"strings"

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
