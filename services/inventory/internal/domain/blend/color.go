package blend

import "fmt"

// Density is a colour as optical density in ten-thousandths: the scale on which the colour of a mixture is the
// mass-weighted mean of its parts (common practice, confirmed by a bench blend; no source for honey of mixed origin).
type Density int64

// Pfund is a colour in hundredths of a millimetre on the Pfund scale.
type Pfund int64

// String is the colour in millimetres, e.g. "42.5".
func (p Pfund) String() string { return fmt.Sprintf("%d.%02d", p/100, p%100) }

// scale pairs the upper limits of the colour classes in both units: United States Standards for Grades of Extracted
// Honey, effective 23 May 1985, Table I. Between the printed points the line is straight, below the first it runs through
// zero, and above the last it goes on as between the last two.
var scale = []struct {
	mm Pfund
	od Density
}{{0, 0}, {8_00, 945}, {17_00, 1890}, {34_00, 3780}, {50_00, 5950}, {85_00, 13890}, {114_00, 30080}}

// DensityOf is the optical density of a colour, rounded down to a ten-thousandth.
func DensityOf(mm Pfund) Density {
	i := segment(func(i int) bool { return mm <= scale[i].mm })
	a, b := scale[i-1], scale[i]
	return a.od + Density((int64(mm-a.mm)*int64(b.od-a.od))/int64(b.mm-a.mm))
}

// PfundOf is the darkest colour of a density, in whole hundredths of a millimetre.
func PfundOf(d Density) Pfund {
	i := segment(func(i int) bool { return d <= scale[i].od })
	a, b := scale[i-1], scale[i]
	return a.mm + Pfund((int64(d-a.od)*int64(b.mm-a.mm))/int64(b.od-a.od))
}

func segment(within func(int) bool) int {
	for i := 1; i < len(scale)-1; i++ {
		if within(i) {
			return i
		}
	}
	return len(scale) - 1
}
