package netcontent

import "fmt"

// say puts the outcome in sentences: the answer first, then both tests with their numbers.
func (s Sample) say(plan Plan, o Outcome, unsure bool) []string {
	answer := "The lot passes."
	if !o.Passed() {
		answer = "The lot fails: it must not be shipped until another person releases it."
	}
	out := []string{answer}
	if plan.Factor > 0 {
		out = append(out, s.sayAverage(o))
	}
	out = append(out, fmt.Sprintf("%d of %d packages weigh less than %s %s, that is short by more than the maximum allowable variation of %s %s; %d may.",
		o.Short, plan.Sample, s.Declared-o.Variation, s.Unit, o.Variation, s.Unit, o.ShortAllowed))
	if len(s.Tares) > 0 {
		out = append(out, fmt.Sprintf("The tare of %s %s is the average of %d empty packages.", Tare(s.Tares), s.Unit, len(s.Tares)))
	}
	if unsure {
		out = append(out, "Some figures of the plan or the variation are provisional: compare them with the printed NIST Handbook 133.")
	}
	return out
}

func (s Sample) sayAverage(o Outcome) string {
	switch {
	case o.Average >= s.Declared:
		return fmt.Sprintf("The average of %s %s is not below the declared %s %s.", o.Average, s.Unit, s.Declared, s.Unit)
	case o.AverageKept:
		return fmt.Sprintf("The average of %s %s is %s %s below the declared %s %s, which the sample error limit of %s %s allows.",
			o.Average, s.Unit, s.Declared-o.Average, s.Unit, s.Declared, s.Unit, o.Limit, s.Unit)
	default:
		return fmt.Sprintf("The average of %s %s is %s %s below the declared %s %s, more than the sample error limit of %s %s allows.",
			o.Average, s.Unit, s.Declared-o.Average, s.Unit, s.Declared, s.Unit, o.Limit, s.Unit)
	}
}
