// Package domain is what the settlement office knows: price schedules and which of them is in force, what water costs, how
// one graded barrel becomes an amount, and how that amount is explained and taken back. It does no I/O and knows no clock.
//
// Each line of a payout is one product, rounded once, half up, to the minor unit, so that a member with a pocket
// calculator gets the same cent. Lines are made per barrel: a charge of 0.03 on three barrels may differ by a cent or two
// from the same charge on their sum, and the line is what counts.
package domain
