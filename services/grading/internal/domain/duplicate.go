package domain

import (
	"fmt"
	"io"
	"strings"
	"time"

	"barrelhead.example/services/kit/checkdigit"
)

// Duplicate is a second jar of a sample under a code of its own, put on the bench so that nobody knows it for one.
type Duplicate struct {
	Code     string
	Original string
	Creator  string
	Time     time.Time
}

// Blind codes look like those the dock draws, or a duplicate could be told by its looks: eight characters of an alphabet
// without vowels and look-alikes, and a check character of the same alphabet.
const (
	codeAlphabet = "23456789CDFHJKMNPQRTVWXY"
	codeBody     = 8
)

// DrawCode makes a blind code out of random bytes. Every code handed out betrays any one mistyped character and any swap
// of two neighbours.
func DrawCode(random io.Reader) (string, error) {
	for buf := make([]byte, 1); ; {
		body := make([]byte, 0, codeBody)
		for len(body) < codeBody {
			if _, err := io.ReadFull(random, buf); err != nil {
				return "", fmt.Errorf("draw a sample code: %w", err)
			}
			// Bytes above the largest multiple of the alphabet would favour its first letters.
			if int(buf[0]) < 256-256%len(codeAlphabet) {
				body = append(body, codeAlphabet[int(buf[0])%len(codeAlphabet)])
			}
		}
		check, err := checkdigit.Code(string(body))
		if err != nil {
			return "", fmt.Errorf("draw a sample code: %w", err)
		}
		if code := string(body) + check; strings.Contains(codeAlphabet, check) && !survivesSwap(code) {
			return code, nil
		}
	}
}

func survivesSwap(code string) bool {
	for i := range len(code) - 1 {
		swapped := []byte(code)
		swapped[i], swapped[i+1] = swapped[i+1], swapped[i]
		if string(swapped) != code && checkdigit.ValidCode(string(swapped)) == nil {
			return true
		}
	}
	return false
}

// Difference is how far two jars of the same honey read apart in one factor.
type Difference struct {
	Factor    Factor
	Original  Value
	Duplicate Value
	// Most is what the house rules allow.
	Most   Value
	Agrees bool
}

// CompareJars compares what was measured on both jars.
func (h *HouseRules) CompareJars(original, duplicate []Reading) []Difference {
	var out []Difference
	for _, f := range Factors() {
		most, ruled := h.DuplicateDiffersMost[f]
		a, b := standingOf(original, f), standingOf(duplicate, f)
		if !ruled || a == nil || b == nil {
			continue
		}
		d := Difference{Factor: f, Original: a.Reported, Duplicate: b.Reported, Most: most}
		d.Agrees = !beyond(a.Reported-b.Reported, most)
		out = append(out, d)
	}
	return out
}

func standingOf(readings []Reading, f Factor) *Reading {
	for i := range readings {
		if readings[i].Factor == f {
			return &readings[i]
		}
	}
	return nil
}

// Words say the difference, e.g. "water differs by 0.4 %, more than 0.2 %: read both again".
func (d *Difference) Words() string {
	off := d.Original - d.Duplicate
	if off < 0 {
		off = -off
	}
	text := fmt.Sprintf("%s differs by %s", d.Factor.Words(), d.Factor.FormatUnit(off))
	if d.Agrees {
		return text + ", within " + d.Factor.FormatUnit(d.Most)
	}
	return text + ", more than " + d.Factor.FormatUnit(d.Most) + ": read both again"
}

// MayDuplicate refuses a duplicate of a duplicate: it would be compared with nothing. Errors: *StateError.
func MayDuplicate(s *Sample) error {
	if s.Original == "" {
		return nil
	}
	return &StateError{s.Name(), "DUPLICATE", s.Name() + " is a duplicate jar itself: duplicate another sample"}
}
