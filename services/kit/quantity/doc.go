// Package quantity holds the exact numbers of the cooperative: mass, percent, price and money as fixed-point integers.
//
// Nothing here is binary floating point, because every one of these numbers may end up on a member's statement and has to
// come out the same on paper. There are two rounding rules and no others: a product rounds once, half up and away from
// zero, so that a reversal mirrors what it reverses; a fixed total is shared by largest remainder, so that the shares sum
// to it. A number with more digits than its type holds is an error and is never rounded on the way in.
package quantity
