package domain

import (
	"cmp"
	"fmt"
	"time"
)

// The portions of a sample.
const (
	PortionA = "A"
	PortionB = "B"
	PortionC = "C"
)

// StoredPortion is a portion as a reading keeps it: A goes without saying, as it did before portions were told apart.
func StoredPortion(portion string) string {
	if portion == PortionA {
		return ""
	}
	return portion
}

// CustodyGap says that nobody can tell where a portion was from some time on.
type CustodyGap struct {
	Sample, Portion string
	// Reason in plain words.
	Reason string
	// Since is the last time the chain is known to have held; zero if it never was.
	Since time.Time
}

// Spoils reports whether what was measured on a portion at a time can be used to dock nobody. What was measured while the
// chain held stands.
func (g *CustodyGap) Spoils(portion string, at time.Time) bool {
	return cmp.Or(portion, PortionA) == g.Portion && at.After(g.Since)
}

// spoiled finds the gap that makes a reading useless; nil where there is none.
func spoiled(gaps []CustodyGap, portion string, at time.Time) *CustodyGap {
	for i := range gaps {
		if gaps[i].Spoils(portion, at) {
			return &gaps[i]
		}
	}
	return nil
}

// Spoiled finds the gap that makes the reading useless; nil where there is none.
func (r *Reading) Spoiled(gaps []CustodyGap) *CustodyGap { return spoiled(gaps, r.Portion, r.Time) }

// Unfit finds the gap that keeps a certificate from docking anybody; nil where there is none.
func (c *Certificate) Unfit(gaps []CustodyGap) *CustodyGap {
	for i := range c.Readings {
		if g := c.Readings[i].Spoiled(gaps); g != nil {
			return g
		}
	}
	return nil
}

// Words say what happened and what follows from it.
func (g *CustodyGap) Words() string {
	return sentence(fmt.Sprintf("%s. Nothing is taken off on a jar nobody can vouch for: another portion is read", g.Reason))
}

// MayReadPortion refuses to read a portion whose chain of custody broke. Errors: *FieldError, *StateError.
func MayReadPortion(sample, portion string, gaps []CustodyGap, now time.Time) error {
	g := spoiled(gaps, portion, now)
	if g == nil {
		return nil
	}
	return unfit(sample, g, "read another portion, or have a new sample drawn")
}

func unfit(sample string, g *CustodyGap, advice string) error {
	return &StateError{SampleName(sample), "UNFIT", fmt.Sprintf("%s: nobody may be docked by it; %s", g.Reason, advice)}
}

// mustHaveCustody refuses readings of a portion that nobody could vouch for when it was read.
func (r *Release) mustHaveCustody(rests []Reading) error {
	for i := range rests {
		if g := rests[i].Spoiled(r.Gaps); g != nil {
			return unfit(r.Sample.Code, g, fmt.Sprintf("read %s on another portion, or have a new sample drawn", rests[i].Factor.Words()))
		}
	}
	return nil
}

// PortionOf is the portion a second look is read on: the member's, unless a re-test says A; the sealed one of a referee.
// Errors: *FieldError.
func (a *Appeal) PortionOf(said string) (string, error) {
	switch {
	case a.Stage == Referee && said != "" && said != PortionC:
		return "", &FieldError{"portion", "a referee reads the sealed portion C"}
	case a.Stage == Referee:
		return PortionC, nil
	case said == PortionC:
		return "", &FieldError{"portion", "portion C is sealed for a referee: read a re-test on B or A"}
	default:
		return cmp.Or(said, PortionB), nil
	}
}
