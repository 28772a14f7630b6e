package pool

import (
	"slices"

	"barrelhead.example/services/kit/quantity"
)

// The scales honey is averaged on, from the best grade and from the lightest colour on (USDA AMS, United States Standards for
// Grades of Extracted Honey, effective 23 May 1985).
var (
	gradeScale = []string{"A", "B", "C", "SUBSTANDARD"}
	colorScale = []string{"WATER_WHITE", "EXTRA_WHITE", "WHITE", "EXTRA_LIGHT_AMBER", "LIGHT_AMBER", "AMBER", "DARK_AMBER"}
)

// AverageGrade is the grade at which half of the payable weight is reached, counted from the best. Grades have an order and no
// distance, so a mean of them would mean nothing; and a list of weights by grade would give away who alone brought the worst.
// It is "" where a class has no place on the scale.
func AverageGrade(classes []ClassResult) string {
	return middle(classes, gradeScale, func(c *ClassResult) string { return c.Grade })
}

// AverageColor is the colour class at which half of the payable weight is reached, counted from the lightest, or "".
func AverageColor(classes []ClassResult) string {
	return middle(classes, colorScale, func(c *ClassResult) string { return c.ColorClass })
}

// middle is the weighted lower median.
func middle(classes []ClassResult, scale []string, of func(*ClassResult) string) string {
	weights, sum := make([]quantity.Mass, len(scale)), quantity.Mass(0)
	for i := range classes {
		c := &classes[i]
		if c.Payable == 0 {
			continue
		}
		place := slices.Index(scale, of(c))
		if place < 0 {
			return ""
		}
		weights[place], sum = weights[place]+c.Payable, sum+c.Payable
	}
	var reached quantity.Mass
	for i, w := range weights {
		if reached += w; w > 0 && 2*reached >= sum {
			return scale[i]
		}
	}
	return ""
}
