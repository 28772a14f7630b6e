package domain

import (
	"fmt"
	"strings"
)

// explain says the grade and what decided it, in one or two sentences.
func (s *Standard) explain(verdicts []verdict, unjudged []Factor, worst int) string {
	if len(verdicts) == 0 {
		return ""
	}
	grade := s.Grades[worst].Words
	var text string
	if worst == 0 {
		text = s.explainBest(verdicts, grade)
	} else {
		text = s.explainHeld(verdicts, worst) + ", so the sample is " + grade + s.although(verdicts, worst) + "."
	}
	if len(unjudged) > 0 && worst < len(s.Grades)-1 {
		text += fmt.Sprintf(" Not judged: %s, so %s is the best it can be.", listFactors(unjudged), grade)
	}
	return text
}

func (s *Standard) explainBest(verdicts []verdict, grade string) string {
	parts := make([]string, 0, len(verdicts))
	for i := range verdicts {
		parts = append(parts, verdicts[i].subject())
	}
	verb := "is"
	if len(parts) > 1 {
		verb = "are"
	}
	return sentence(fmt.Sprintf("%s %s within %s, so the sample is %s.", listWords(parts), verb, s.bestWithin(verdicts, grade), grade))
}

// bestWithin names the limit when there is only one, since then it is the whole answer.
func (s *Standard) bestWithin(verdicts []verdict, grade string) string {
	if only := verdicts[0].bounds[0]; len(verdicts) == 1 && only != nil && !only.None {
		return fmt.Sprintf("the limit of %s for %s", only.words(), grade)
	}
	return "the limits of " + grade
}

func (s *Standard) explainHeld(verdicts []verdict, worst int) string {
	var parts []string
	for i := range verdicts {
		if verdicts[i].allows == worst {
			parts = append(parts, s.failure(&verdicts[i]))
		}
	}
	return sentence(listWords(parts))
}

// failure says which limit a value missed, e.g. "18.7 % water is over the 18.6 % limit of grades A and B".
func (s *Standard) failure(v *verdict) string {
	missed := v.deciding()
	bound, grades := v.rule.factor.FormatUnit(missed.Bound), s.gradesWith(v.bounds, missed)
	if missed.Least {
		return fmt.Sprintf("%s is under the %s of %s", v.subject(), bound, grades)
	}
	return fmt.Sprintf("%s is over the %s limit of %s", v.subject(), bound, grades)
}

// short is the outcome among those of other standards.
func (s *Standard) short(verdicts []verdict, worst int) string {
	text := s.Grades[worst].Short
	if worst == 0 {
		return text
	}
	for i := range verdicts {
		if v := &verdicts[i]; v.allows == worst {
			side := "over"
			missed := v.deciding()
			if missed.Least {
				side = "under"
			}
			return fmt.Sprintf("%s: %s is %s %s", text, v.subject(), side, v.rule.factor.FormatUnit(missed.Bound))
		}
	}
	return text
}

// gradesWith names every grade that asks the same.
func (s *Standard) gradesWith(bounds []*Limit, missed *Limit) string {
	var words []string
	for g, b := range bounds {
		if b != nil && b.Bound == missed.Bound && b.Least == missed.Least {
			words = append(words, s.Grades[g].Words)
		}
	}
	return mergeGrades(words)
}

// mergeGrades writes "grade A" and "grade B" as "grades A and B".
func mergeGrades(words []string) string {
	const prefix = "grade "
	if len(words) < 2 {
		return listWords(words)
	}
	for i, w := range words {
		if !strings.HasPrefix(w, prefix) {
			return listWords(words)
		}
		words[i] = w[len(prefix):]
	}
	return "grades " + listWords(words)
}

// although mentions a total that by itself would have reached a better grade: members ask.
func (s *Standard) although(verdicts []verdict, worst int) string {
	for i := range verdicts {
		v := &verdicts[i]
		if v.rule.factor == Total && v.allows < worst {
			return fmt.Sprintf(", although its total of %s would reach %s", Total.FormatUnit(v.value), s.Grades[v.allows].Words)
		}
	}
	return ""
}

// subject is a value as the subject of a sentence.
func (v *verdict) subject() string {
	text := v.rule.factor.FormatUnit(v.value)
	switch v.rule.factor {
	case Moisture:
		return text + " water"
	case Total:
		if v.raised {
			return fmt.Sprintf("a total of %s (raised from %d to %d)", text, v.rule.scale.from, v.rule.scale.to)
		}
		return "a total of " + text
	default:
		return v.rule.factor.Words() + " at " + text
	}
}

// rangeWords says which range a value fell in, e.g. "40 to 44 points is grade B".
func (s *Standard) rangeWords(v *verdict) string {
	where := between{kept: v.bounds[v.falls]}
	if v.falls > 0 {
		where.missed = v.bounds[v.falls-1]
	}
	if words, known := s.ranges[where]; known {
		return words
	}
	return s.inRange(v)
}

// nameRanges writes down the words of every range once: evaluating is asked for them all the time.
func (s *Standard) nameRanges() {
	s.ranges = map[between]string{}
	for i := range s.rules {
		r := &s.rules[i]
		for g := range s.Grades {
			for _, kept := range oneOf(r.limits[g]) {
				missed := []*Limit{nil}
				if g > 0 {
					missed = oneOf(r.limits[g-1])[1:]
				}
				for _, m := range missed {
					s.nameRange(r, g, between{m, kept})
				}
			}
		}
	}
}

// nameRange leaves out what no value falls in, and what two factors would share.
func (s *Standard) nameRange(r *rule, grade int, where between) {
	if where.kept == nil && where.missed == nil {
		return
	}
	v := verdict{rule: r, bounds: make([]*Limit, len(s.Grades)), falls: grade}
	v.bounds[grade] = where.kept
	if grade > 0 {
		v.bounds[grade-1] = where.missed
	}
	s.ranges[where] = s.inRange(&v)
}

// oneOf is none of the limits, or each of them.
func oneOf(limits []Limit) []*Limit {
	all := []*Limit{nil}
	for i := range limits {
		all = append(all, &limits[i])
	}
	return all
}

func (s *Standard) inRange(v *verdict) string {
	f, grade := v.rule.factor, s.Grades[v.falls].Words
	here := v.bounds[v.falls]
	if v.falls == 0 {
		if here == nil || here.None {
			return "no limit for " + grade
		}
		return here.words() + " is " + grade + when(here)
	}
	missed := v.bounds[v.falls-1]
	return f.rangeBeyond(missed, here) + " is " + grade + when(missed)
}

// rangeBeyond is the range past a missed limit, up to the next one if there is one.
func (f Factor) rangeBeyond(missed, here *Limit) string {
	open := here == nil || here.None || here.Least != missed.Least
	switch {
	case missed.Least && open:
		return "under " + f.FormatUnit(missed.Bound)
	case missed.Least:
		return fmt.Sprintf("%s to %s", f.Format(here.Bound), f.FormatUnit(missed.Bound-f.spec().step))
	case open:
		return "over " + f.FormatUnit(missed.Bound)
	default:
		return fmt.Sprintf("over %s to %s", f.Format(missed.Bound), f.FormatUnit(here.Bound))
	}
}

// words are the limit alone, e.g. "at most 18.6 %".
func (l *Limit) words() string {
	switch {
	case l.None:
		return "no limit"
	case l.Least:
		return "at least " + l.Factor.FormatUnit(l.Bound)
	default:
		return "at most " + l.Factor.FormatUnit(l.Bound)
	}
}

// Text is the limit in words with its condition and the standard's own description, for people to read.
func (l *Limit) Text() string {
	text := l.words() + when(l)
	if l.Words != "" {
		text += " (" + l.Words + ")"
	}
	return text
}

func when(l *Limit) string {
	if l.When == nil {
		return ""
	}
	return ", " + l.When.Words
}

func (c *ColorClass) rangeWords() string {
	upper := "to " + Color.FormatUnit(c.upTo)
	if c.open {
		upper = "under " + Color.FormatUnit(c.upTo)
	}
	side := "over"
	if c.from {
		side = "from"
	}
	switch {
	case c.last:
		return fmt.Sprintf("%s %s is %s", side, Color.FormatUnit(c.over), c.Words)
	case c.over == 0:
		return fmt.Sprintf("%s is %s", upper, c.Words)
	default:
		return fmt.Sprintf("%s %s %s is %s", side, Color.Format(c.over), upper, c.Words)
	}
}

// Text is the class in words, e.g. "over 8.0 to 17.0 mm".
func (c *ColorClass) Text() string { return strings.TrimSuffix(c.rangeWords(), " is "+c.Words) }

func listFactors(factors []Factor) string {
	words := make([]string, 0, len(factors))
	for _, f := range factors {
		words = append(words, f.Words())
	}
	return listWords(words)
}

// listWords writes "a", "a and b" or "a, b and c".
func listWords(words []string) string {
	last := len(words) - 1
	if last < 1 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:last], ", ") + " and " + words[last]
}

func joinSentences(a, b string) string {
	if a == "" {
		return b
	}
	return a + " " + b
}
