package heat

import "math"

// inStore is how soon honey in store gains 30 mg/kg at the soonest: the quick ends of the ranges of White, Kushnir and Subers
// (1964), "Table 3" in A Practical Manual of Beekeeping, from 30 °C on, and below, where that copy has no row, of the same
// laboratory data in another beekeeping manual: 600 days at 20 °C and 25 years at 10 °C.
var inStore = []struct {
	celsius Celsius
	days    float64
}{{10_0, 25 * 365}, {20_0, 600}, {30_0, 100}, {40_0, 20}, {50_0, 4}, {60_0, 1}}

// WarmestStore ends the table of DaysInStore.
const WarmestStore = 60_0

// DaysInStore is in how many whole days honey kept at c gains 30 mg/kg at the soonest, at least 1: the logarithm runs straight
// between the rows of the table, and colder than its first row counts as that. c is at most WarmestStore.
func DaysInStore(c Celsius) int64 {
	c = max(c, inStore[0].celsius)
	for i := 1; i < len(inStore); i++ {
		a, b := inStore[i-1], inStore[i]
		if c > b.celsius && i < len(inStore)-1 {
			continue
		}
		part := float64(c-a.celsius) / float64(b.celsius-a.celsius)
		// The hair added keeps a row of the table from falling to the day before it.
		return max(1, int64(math.Exp(math.Log(a.days)+part*math.Log(b.days/a.days))+1e-6))
	}
	return 1
}
