package domain

import (
	"fmt"
	"strings"
)

// Borderline reports whether a reported value lies so near a limit of the standard that the house rules want it read
// twice more, and names the limit.
func (h *HouseRules) Borderline(s *Standard, f Factor, v Value) (limit Value, near bool) {
	within, ruled := h.RereadWithin[f]
	if !ruled {
		return 0, false
	}
	for _, l := range s.Limits() {
		if l.Factor == f && !l.None && !beyond(v-l.Bound, within) {
			return l.Bound, true
		}
	}
	return 0, false
}

// BorderlineWords say what is to be done about a reading near a limit; empty when nothing is.
func (h *HouseRules) BorderlineWords(s *Standard, r *Reading) string {
	limit, near := h.Borderline(s, r.Factor, r.Reported)
	if !near || r.Mean {
		return ""
	}
	return fmt.Sprintf("%s is within %s of the limit of %s: read it twice more, the mean counts",
		r.Factor.FormatUnit(r.Reported), r.Factor.FormatUnit(h.RereadWithin[r.Factor]), r.Factor.FormatUnit(limit))
}

// rereads of a borderline value: with the first they make three.
const rereads = 2

// NewMean makes the reading that replaces a borderline one: the mean of it and two more by the same method, exact, rounded
// once. A mean exactly on the half goes to the member: down for water and colour, up for points. Errors: *FieldError,
// *StateError, those of Measure.
func NewMean(in Reading, standing *Reading, raw []string) (Reading, error) {
	if standing == nil || standing.Mean {
		return in, &StateError{SampleName(in.Sample), "NOT_BORDERLINE", "there is no single reading of " + in.Kind.Factor().Words() + " to read again"}
	}
	if len(raw) != rereads {
		return in, &FieldError{"raw_values", fmt.Sprintf("%d values were given: read it exactly %d times more", len(raw), rereads)}
	}
	sum, parts := standing.Computed, []string{standing.Factor.Format(standing.Computed)}
	for _, text := range raw {
		m, err := Measure(in.Kind, text, in.Temperature)
		if err != nil {
			return in, err
		}
		sum += m.Computed
		parts = append(parts, m.Factor.Format(m.Computed))
	}
	if in.Kind.Factor() != standing.Factor {
		return in, &FieldError{"kind", "the method must measure " + standing.Factor.Words()}
	}
	replaced := standing.ID
	in.Factor, in.Mean, in.Replaces, in.Portion = standing.Factor, true, &replaced, standing.Portion
	in.RawValue, in.Reason = strings.Join(raw, " "), "borderline: read twice more"
	in.Computed, in.Reported = sum/(rereads+1), meanReported(standing.Factor, sum)
	in.Explanation = fmt.Sprintf("Mean of %s is %s, reported as %s (rounded once, a tie to the member).",
		listWords(parts), in.Factor.Format(in.Computed), in.Factor.FormatUnit(in.Reported))
	return in, nil
}

// meanReported rounds a sum of three without dividing first, so that nothing is lost before the one rounding.
func meanReported(f Factor, sum Value) Value {
	const n = rereads + 1
	step := n * f.spec().step
	down := sum / step
	rest := sum - down*step
	up := 2*rest > step || (2*rest == step && f.spec().unit == "points")
	if up {
		down++
	}
	return down * f.spec().step
}
