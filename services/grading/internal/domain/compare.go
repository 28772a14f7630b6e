package domain

import (
	"errors"
	"slices"
	"strings"
)

// Comparison is one set of values judged by every standard.
type Comparison struct {
	// Decisions by standard id; standards that judge nothing of what was given are left out.
	Decisions []Decision
	// Summary says the outcomes in one sentence, the best first, then what was held down and by which figure.
	Summary string
}

// Compare judges q by every standard in force on a day. Errors: *FieldError when no standard judges anything of it.
func (l *Library) Compare(q *Question, day string) (Comparison, error) {
	var c Comparison
	var reached, held []string
	partly := false
	for _, s := range l.inForce(day) {
		d, err := s.Judge(q)
		if errors.Is(err, errNothingAsked) {
			continue
		}
		if err != nil {
			return Comparison{}, err
		}
		c.Decisions = append(c.Decisions, d)
		partly = partly || (d.Grade != "" && len(d.NotJudged) > 0)
		switch {
		case d.Grade == "":
		case d.Grade == s.Grades[0].ID:
			reached = addOnce(reached, d.Short)
		default:
			held = addOnce(held, d.Short)
		}
	}
	if len(c.Decisions) == 0 {
		return Comparison{}, errNothingAsked
	}
	c.Summary = summary(reached, held, partly)
	return c, nil
}

// addOnce keeps standards that only differ in their colour scale from saying the same twice.
func addOnce(list []string, s string) []string {
	if slices.Contains(list, s) {
		return list
	}
	return append(list, s)
}

func summary(reached, held []string, partly bool) string {
	var parts []string
	if len(reached) > 0 {
		parts = append(parts, strings.Join(reached, ", "))
	}
	parts = append(parts, held...)
	if len(parts) == 0 {
		return ""
	}
	text := strings.Join(parts, "; ") + "."
	if partly {
		return "As far as judged: " + text
	}
	return sentence(text)
}
