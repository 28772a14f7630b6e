// Package checkdigit makes and checks the check characters of numbers that people copy by hand or scan: bar codes, bank
// numbers, and the cooperative's own blind codes and lot codes. It does no more: a number that passes may still not exist.
package checkdigit

import (
	"errors"
	"fmt"
)

// What can be wrong with a number.
var (
	// ErrCheck is a check character that does not belong to the rest.
	ErrCheck = errors.New("fails its check: a character is mistyped or two are swapped")
	// ErrCharacter is a character the scheme does not use.
	ErrCharacter = errors.New("has a character that cannot occur in it")
	// ErrLength is a number that is too short or too long for the scheme.
	ErrLength = errors.New("has the wrong length")
)

func refuse(kind, number string, err error) error {
	return fmt.Errorf("%s %.40q %w", kind, number, err)
}

// digits gives the values of a string of ASCII digits.
func digits(kind, s string, lengths ...int) ([]int, error) {
	values := make([]int, len(s))
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return nil, refuse(kind, s, ErrCharacter)
		}
		values[i] = int(s[i] - '0')
	}
	for _, n := range lengths {
		if len(s) == n {
			return values, nil
		}
	}
	return nil, refuse(kind, s, ErrLength)
}
