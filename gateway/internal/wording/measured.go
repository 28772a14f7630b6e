package wording

import gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"

// units are what follows the value of a factor, as the contract gives them.
var units = map[gradingv1.Factor]string{
	gradingv1.Factor_FACTOR_MOISTURE: "%", gradingv1.Factor_FACTOR_COLOR: "mm",
	gradingv1.Factor_FACTOR_FLAVOR: "points", gradingv1.Factor_FACTOR_DEFECTS: "points", gradingv1.Factor_FACTOR_CLARITY: "points", gradingv1.Factor_FACTOR_TOTAL: "points",
	gradingv1.Factor_FACTOR_HMF: "mg/kg", gradingv1.Factor_FACTOR_DIASTASE: "DN", gradingv1.Factor_FACTOR_CONDUCTIVITY: "mS/cm",
	gradingv1.Factor_FACTOR_SUGARS: "g/100 g", gradingv1.Factor_FACTOR_SUCROSE: "g/100 g", gradingv1.Factor_FACTOR_ACIDITY: "meq/kg", gradingv1.Factor_FACTOR_INSOLUBLES: "g/100 g",
	gradingv1.Factor_FACTOR_DENSITY: "lb/gal", gradingv1.Factor_FACTOR_HONEYDEW: "%", gradingv1.Factor_FACTOR_SECTION_WEIGHT: "oz",
	gradingv1.Factor_FACTOR_CAPPING: "points", gradingv1.Factor_FACTOR_COMB_SURFACE: "points", gradingv1.Factor_FACTOR_COMB_UNIFORMITY: "points",
	gradingv1.Factor_FACTOR_COMB_SHARE: "%", gradingv1.Factor_FACTOR_COMB_ATTACHMENT: "%", gradingv1.Factor_FACTOR_COMB_PIECES: "pieces", gradingv1.Factor_FACTOR_BROKEN_PIECES: "pieces",
	gradingv1.Factor_FACTOR_SCREEN_MESH: "mesh",
}

// Measured writes the value of a factor with its unit: "17.4 %", "39.0 mm", "45 points".
func (s Style) Measured(factor gradingv1.Factor, value string) string {
	unit := units[factor]
	if value == "" || unit == "" {
		return value
	}
	if value == "1" && (unit == "points" || unit == "pieces") {
		unit = unit[:len(unit)-1]
	}
	return value + s.gap + unit
}
