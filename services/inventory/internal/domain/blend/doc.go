// Package blend chooses whole barrels for tank charges: within a weight window, a moisture window and a colour band, with
// enough of a floral source for the label, few enough members and old barrels, at the least value given away.
//
// Every limit is an integer inequality. A limit on a weighted average, Σ aᵢwᵢxᵢ / Σ wᵢxᵢ ≤ L, is multiplied out to
// Σ (aᵢ − L)wᵢxᵢ ≤ 0, and colour is averaged in optical density, in which it mixes, and not in millimetres. Floating
// point only guides the search: a plan is accepted, and a part of the search given up, by integer arithmetic alone. So a
// plan never breaks a limit by a rounding, and its bound is proved: no plan for the same barrels costs less.
//
// The search is budgeted by nodes and never by the clock, and ties go to the lower barrel id, so the same question has
// the same answer on every machine.
package blend
