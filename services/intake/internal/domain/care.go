package domain

import (
	"fmt"
	"time"
)

// When a scale needs somebody's attention (common practice, no source).
const (
	certificateNotice = 30 // days ahead
	cornerInterval    = 7  // days
)

// Care is what is known of a scale beside its newest check.
type Care struct {
	// CornerDate is the local date of the newest check that tried all four corners, or empty.
	CornerDate string
	// SealOnRecord is the seal of the newest passing acceptance check that read one, else the one the scale was entered with.
	SealOnRecord string
}

// Corners reports whether a check tried a weight on all four corners.
func (c Check) Corners() bool {
	tried := map[string]bool{}
	for _, l := range c.Loads {
		tried[l.Position] = tried[l.Position] || l.Known > 0
	}
	return tried["A"] && tried["B"] && tried["C"] && tried["D"]
}

// Warnings says in plain words what to see to soon.
func (s Scale) Warnings(today string) []string {
	var found []string
	for _, w := range []string{s.certificateWarning(today), s.sealWarning(), s.cornerWarning(today)} {
		if w != "" {
			found = append(found, w)
		}
	}
	return found
}

func (s Scale) certificateWarning(today string) string {
	if s.CertificateExpireDate == "" {
		return ""
	}
	switch left := days(today, s.CertificateExpireDate); {
	case left < 0:
		return fmt.Sprintf("the certificate of %s lapsed on %s: have it renewed", s.label(), s.CertificateExpireDate)
	case left <= certificateNotice:
		return fmt.Sprintf("the certificate of %s lapses on %s, in %d days: have it renewed", s.label(), s.CertificateExpireDate, left)
	default:
		return ""
	}
}

func (s Scale) sealWarning() string {
	if s.LastCheck == nil || s.LastCheck.Seal == "" || s.Care.SealOnRecord == "" || s.LastCheck.Seal == s.Care.SealOnRecord {
		return ""
	}
	return fmt.Sprintf("the seal of %s read %s at the last check, but %s is on record: find out who opened it, then make an "+
		"acceptance check", s.label(), s.LastCheck.Seal, s.Care.SealOnRecord)
}

func (s Scale) cornerWarning(today string) string {
	if s.Care.CornerDate == "" {
		return fmt.Sprintf("the corners of %s were never tried: put a weight on A, B, C and D in one check", s.label())
	}
	if age := days(s.Care.CornerDate, today); age > cornerInterval {
		return fmt.Sprintf("the corners of %s were last tried on %s, %d days ago: put a weight on A, B, C and D in one check",
			s.label(), s.Care.CornerDate, age)
	}
	return ""
}

// days from one date to another; dates were checked when they were stored.
func days(from, to string) int {
	a, errA := time.Parse(time.DateOnly, from)
	b, errB := time.Parse(time.DateOnly, to)
	if errA != nil || errB != nil {
		return 0
	}
	return int(b.Sub(a) / (24 * time.Hour))
}
