package domain

import (
	"fmt"

	"barrelhead.example/services/kit/quantity"
)

// White 1984, J. AOAC 67(6):1129: mm = −38.70 + 371.39 × A635. The coefficients are from memory (about 90 % sure).
const (
	pfundOffset = -38_70
	pfundSlope  = 371_39
)

// highestAbsorbance is the last that gives at most 150 mm, in millionths.
const highestAbsorbance = 508_091

func pfundByAbsorbance(in measuring) (Value, string, error) {
	if in.raw < 0 || in.raw > highestAbsorbance {
		return 0, "", &OutOfRangeError{"raw_value", "0", "0.508", fmt.Sprintf(
			"absorbance %s is outside 0 to 0.508: read it again and check the blank", in.rawText)}
	}
	exact := pfundOffset*1_000_000 + pfundSlope*in.raw
	how := fmt.Sprintf("absorbance %s at 635 nm", in.rawText)
	if exact < 0 {
		// The straight line crosses zero at A = 0.1042; paler honey is simply the palest there is.
		return 0, fmt.Sprintf("%s is below the 0.1042 of 0 mm, so it counts as 0.0 mm colour", how), nil
	}
	v := Value(exact / 10_000)
	return v, fmt.Sprintf("%s is −38.70 + 371.39 × %s = %s mm colour", how, in.rawText, quantity.FormatFixed(int64(v), valueDigits, 1)), nil
}
