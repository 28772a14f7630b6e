// Package domain is what the laboratory knows about honey: how a raw reading becomes a reported value, how a standard
// judges values, and when a grade may be released. It has no I/O and reads no clock.
//
// Every limit lives in a data file under standards/ with its source and whether it was seen in print. Values compared
// with a limit are exact integers throughout: there is no floating point in this package.
package domain
