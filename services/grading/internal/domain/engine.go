package domain

import "fmt"

// FactorResult is what one factor came to under a standard. It is stored with certificates: names in JSON stay for ever.
type FactorResult struct {
	Factor Factor `json:"factor"`
	Value  Value  `json:"value"`
	// Grade is the best the factor alone allows; empty for a factor that sets no grade.
	Grade string `json:"grade"`
	// Limit is the range the value fell in, in words.
	Limit string `json:"limit"`
	// Limiting is true if the factor held the whole sample down.
	Limiting bool   `json:"limiting"`
	Source   string `json:"source"`
	// Provisional is true where the limit, or the rule that applied it, is only remembered.
	Provisional bool `json:"provisional"`
}

// Decision is the outcome of judging. It is stored with certificates: names in JSON stay for ever.
type Decision struct {
	Standard        string `json:"standard"`
	StandardVersion string `json:"standard_version"`
	// Grade is empty when no factor of the grade was given.
	Grade      string `json:"grade"`
	ColorClass string `json:"color_class"`
	// Total, Moisture and Color are decimal strings, empty when not scored or not given.
	Total       string         `json:"total"`
	Moisture    string         `json:"moisture"`
	Color       string         `json:"color"`
	Factors     []FactorResult `json:"factors"`
	Explanation string         `json:"explanation"`
	// Short is the outcome beside those of other standards, with the limit that decided it.
	Short string `json:"short"`
	// NotJudged are factors of the grade that were not given.
	NotJudged []Factor `json:"not_judged"`
}

// verdict is one factor judged, before it is written down.
type verdict struct {
	rule  *rule
	value Value
	// bounds is the limit of each grade that applies; nil where a grade asks nothing.
	bounds []*Limit
	// falls is the grade whose range holds the value, allows the best it leaves open.
	falls, allows int
	// raised is true for a total brought to the full basis.
	raised bool
}

// Judge decides what q comes to by the standard. It is total: any question has a decision or a named fault, the fault
// being *FieldError when nothing was given. The same question always has the same decision.
func (s *Standard) Judge(q *Question) (Decision, error) {
	d := Decision{Standard: s.Name(), StandardVersion: s.Version}
	verdicts, unjudged := s.verdicts(q)
	verdicts, err := s.judgeLabel(q, verdicts)
	if err != nil {
		return Decision{}, err
	}
	color, hasColor := q.Get(Color)
	hasColor = hasColor && len(s.colors) > 0
	if len(verdicts) == 0 && !hasColor {
		return Decision{}, errNothingAsked
	}
	worst := 0
	for i := range verdicts {
		worst = max(worst, verdicts[i].allows)
	}
	d.Factors = make([]FactorResult, 0, len(verdicts)+1)
	for i := range verdicts {
		d.Factors = append(d.Factors, s.result(&verdicts[i], worst))
	}
	if len(verdicts) > 0 {
		d.Grade, d.Short = s.Grades[worst].ID, s.short(verdicts, worst)
	}
	d.NotJudged = unjudged
	s.describe(&d, q, verdicts)
	explained := s.explain(verdicts, unjudged, worst)
	if hasColor {
		explained = s.judgeColor(&d, color, explained)
	}
	d.Explanation = explained
	return d, nil
}

// verdicts judges every factor of the grade that was given, and names those that were not.
func (s *Standard) verdicts(q *Question) (judged []verdict, unjudged []Factor) {
	judged = make([]verdict, 0, len(s.rules))
	bounds := make([]*Limit, len(s.rules)*len(s.Grades))
	for i := range s.rules {
		r := &s.rules[i]
		if !r.judges(q.Style) {
			continue
		}
		value, raised, given := s.valueFor(r, q)
		if !given {
			if r.factor != Total {
				unjudged = append(unjudged, r.factor)
			}
			continue
		}
		mine := bounds[i*len(s.Grades) : (i+1)*len(s.Grades)]
		judged = append(judged, s.judge(r, q, value, raised, mine))
	}
	return judged, unjudged
}

func (s *Standard) judge(r *rule, q *Question, value Value, raised bool, bounds []*Limit) verdict {
	v := verdict{rule: r, value: value, raised: raised, bounds: bounds}
	for g := range s.Grades {
		bounds[g] = applicable(r.limits[g], q)
	}
	last := len(s.Grades) - 1
	for v.falls < last && bounds[v.falls] != nil && !bounds[v.falls].holds(value) {
		v.falls++
	}
	v.allows = v.falls
	if v.falls < r.holdsFrom || (r.holdsSwitch != nil && !r.holdsSwitch.On) {
		v.allows = 0
	}
	return v
}

// judgeLabel adds a verdict on the colour marked on a label where the standard has a rule for it.
func (s *Standard) judgeLabel(q *Question, verdicts []verdict) ([]verdict, error) {
	mm, given := q.Get(Color)
	if s.label == nil || q.MarkedColor == "" || !given {
		return verdicts, nil
	}
	for i := range s.colors {
		c := &s.colors[i]
		if c.ID != q.MarkedColor {
			continue
		}
		marked := &Limit{Factor: Color, Bound: c.upTo, None: c.last, Source: s.label.source, Provenance: s.label.provenance}
		v := verdict{rule: &s.label.rule, value: mm, bounds: make([]*Limit, len(s.Grades))}
		v.bounds[0] = marked
		if !marked.holds(mm) {
			v.falls, v.allows = len(s.Grades)-1, len(s.Grades)-1
			v.bounds[v.falls-1] = marked
		}
		return append(verdicts, v), nil
	}
	return nil, &FieldError{"marked_color", fmt.Sprintf("%q is no colour class of %s", q.MarkedColor, s.Title)}
}

func applicable(limits []Limit, q *Question) *Limit {
	for i := range limits {
		if limits[i].When.matches(q) {
			return &limits[i]
		}
	}
	return nil
}

// valueFor is the value a rule judges. The total exists only when every scored factor was given.
func (s *Standard) valueFor(r *rule, q *Question) (v Value, raised, given bool) {
	if r.factor != Total {
		v, given = q.Get(r.factor)
		return v, false, given
	}
	for i := range s.rules {
		scored := &s.rules[i]
		if !scored.scored || !scored.judges(q.Style) {
			continue
		}
		points, ok := q.Get(scored.factor)
		if !ok {
			return 0, false, false
		}
		v += points
	}
	if r.scale == nil || r.scale.style != q.Style {
		return v, false, true
	}
	if !r.scale.by.On {
		return 0, false, false
	}
	// Whole points times a ratio, the fraction dropped.
	return Value(int64(v/one)*r.scale.to/r.scale.from) * one, true, true
}

func (s *Standard) result(v *verdict, worst int) FactorResult {
	decided := v.deciding()
	f := FactorResult{
		Factor: v.rule.factor, Value: v.value, Grade: s.Grades[v.allows].ID, Limit: s.rangeWords(v),
		Limiting: worst > 0 && v.allows == worst,
	}
	if decided != nil {
		f.Source, f.Provisional = decided.Source, decided.Provisional()
	}
	switch {
	case v.raised:
		f.Provisional = f.Provisional || v.rule.scale.by.Provisional()
	case v.rule.holdsSwitch != nil && v.falls > 0:
		f.Provisional = f.Provisional || v.rule.holdsSwitch.Provisional()
	}
	return f
}

// deciding is the limit a value failed, or the best one where it failed none.
func (v *verdict) deciding() *Limit {
	if v.falls == 0 {
		return v.bounds[0]
	}
	return v.bounds[v.falls-1]
}

// describe fills in the headline figures.
func (s *Standard) describe(d *Decision, q *Question, verdicts []verdict) {
	for i := range verdicts {
		if verdicts[i].rule.factor == Total {
			d.Total = Total.Format(verdicts[i].value)
		}
	}
	if v, ok := q.Get(Moisture); ok {
		d.Moisture = Moisture.Format(v)
	}
	if v, ok := q.Get(Color); ok {
		d.Color = Color.Format(v)
	}
}

// judgeColor adds the colour class, which is no factor of any grade.
func (s *Standard) judgeColor(d *Decision, v Value, explained string) string {
	for i := range s.colors {
		c := &s.colors[i]
		if !c.holds(v) {
			continue
		}
		d.ColorClass = c.ID
		d.Factors = append(d.Factors, FactorResult{
			Factor: Color, Value: v, Limit: c.rangeWords(), Source: c.Source, Provisional: provisional(c.Provenance),
		})
		return joinSentences(explained, fmt.Sprintf("Colour %s is %s.", Color.FormatUnit(v), c.Words))
	}
	return explained
}

// holds reports whether a colour is in the class, given that it is in no paler one.
func (c *ColorClass) holds(v Value) bool {
	return c.last || v < c.upTo || (v == c.upTo && !c.open)
}
