package domain

import "barrelhead.example/services/kit/quantity"

// Class is the accuracy class marked on a scale (NIST Handbook 44, section 2.20).
type Class string

// The classes a dock may meet.
const (
	ClassII  Class = "II"
	ClassIII Class = "III"
	ClassIIL Class = "III L"
)

// Column is the column of the tolerance table a check is judged by.
type Column string

// Acceptance is half of maintenance and applies to new, repaired or newly sealed devices (NIST Handbook 44, G-T.1, from
// memory).
const (
	Maintenance Column = "MAINTENANCE"
	Acceptance  Column = "ACCEPTANCE"
)

// step allows halves/2 divisions either way up to and including a load of upTo divisions; 0 means no end.
type step struct{ upTo, halves int64 }

// Acceptance tolerances in half divisions. Classes II and III: NIST Handbook 133 (2026), chapter 2, Table 2-2. Class III L:
// NIST Handbook 44, section 2.20, Table 6, from memory; it goes on by one half division for each 500 d or part of it.
var steps = map[Class][]step{
	ClassII:  {{5_000, 1}, {20_000, 2}, {0, 3}},
	ClassIII: {{500, 1}, {2_000, 2}, {4_000, 3}, {0, 5}},
}

const stepIIL = 500

// sources say where the tolerances of a class are published.
var sources = map[Class]string{
	ClassII:  "NIST Handbook 133 (2026), chapter 2, Table 2-2",
	ClassIII: "NIST Handbook 133 (2026), chapter 2, Table 2-2",
	ClassIIL: "NIST Handbook 44, section 2.20, Table 6 (from memory)",
}

// ToleranceSource says where the tolerances of a class are published.
func ToleranceSource(class Class) string { return sources[class] }

// Tolerance is the error allowed either way at a load on a scale of this class and division, the limit included. It is
// exact to half a division, so a division below two thousandths of a unit rounds down: to the strict side.
func Tolerance(class Class, column Column, load, division quantity.Mass) quantity.Mass {
	halves := acceptanceHalves(class, load, division)
	if column != Acceptance {
		halves *= 2
	}
	return quantity.Mass(halves * int64(division) / 2)
}

func acceptanceHalves(class Class, load, division quantity.Mass) int64 {
	if class == ClassIIL {
		span := stepIIL * int64(division)
		return max(1, (int64(load)+span-1)/span)
	}
	for _, s := range steps[class] {
		if s.upTo == 0 || int64(load) <= s.upTo*int64(division) {
			return s.halves
		}
	}
	// Without a class nothing is tolerated; Scale.Validate keeps such a scale from being entered.
	return 0
}

// limits of a class: how many divisions its capacity may have and the least load worth weighing, in divisions.
type limits struct{ fewest, most, least int64 }

// Numbers of divisions: NIST Handbook 133 (2026), chapter 2, Table 2-1 for II and III; Handbook 44, section 2.20, Table 3
// for III L, from memory. Minimum loads: Handbook 44, section 2.20, Table 8, from memory.
var classLimits = map[Class]limits{
	ClassII:  {5_000, 100_000, 50},
	ClassIII: {100, 10_000, 20},
	ClassIIL: {2_000, 10_000, 50},
}
