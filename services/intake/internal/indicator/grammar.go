package indicator

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"barrelhead.example/services/kit/quantity"
)

// reading is what one line says by itself.
type reading struct {
	raw string
	// state is Stable for a line that may count if others agree with it.
	state State
	// why goes with Unreadable.
	why string
	// weighed is false when the line shows no weight.
	weighed bool
	weight  quantity.Mass
	// unit is the unit as sent, for the words of WrongUnit.
	unit string
	// marked is false when the line has no mark of motion.
	marked bool
}

// grammar reads lines of one form.
type grammar struct {
	settings Settings
	// house is the cooperative's unit: any other is refused, never converted.
	house                       quantity.Unit
	form                        *regexp.Regexp
	weight, unit, stable, gross int
}

func newGrammar(s Settings, house quantity.Unit) (*grammar, error) {
	if s.Pattern == "" {
		return nil, errors.New("is missing: describe one line, with a group (?P<weight>…)")
	}
	form, err := regexp.Compile(`\A(?:` + s.Pattern + `)\z`)
	if err != nil {
		return nil, fmt.Errorf("is no regular expression: %w", err)
	}
	g := &grammar{
		settings: s, house: house, form: form, weight: form.SubexpIndex("weight"), unit: form.SubexpIndex("unit"),
		stable: form.SubexpIndex("stable"), gross: form.SubexpIndex("gross"),
	}
	return g, g.check()
}

func (g *grammar) check() error {
	for _, name := range form(g.form) {
		if !slices.Contains([]string{"weight", "unit", "stable", "gross"}, name) {
			return fmt.Errorf("has a group %s: the groups are weight, unit, stable and gross, each once", name)
		}
	}
	switch unit := g.settings.Unit; {
	case g.weight < 0:
		return errors.New("has no group (?P<weight>…)")
	case g.unit < 0 && unit != string(quantity.LB) && unit != string(quantity.KG):
		return errors.New("has no group (?P<unit>…): say LB or KG in unit")
	case g.unit >= 0 && unit != "":
		return fmt.Errorf("has a group unit, and unit says %q: leave one out", unit)
	case g.stable >= 0 && len(g.settings.StableTexts) == 0:
		return errors.New("has a group stable: say in stable_texts what means that the weight stands still")
	case g.gross >= 0 && len(g.settings.GrossTexts) == 0:
		return errors.New("has a group gross: say in gross_texts what means a gross weight")
	}
	return nil
}

// form lists the names of groups. One that comes twice is given as "weight twice": which one counted would be unclear.
func form(r *regexp.Regexp) []string {
	var names []string
	for _, name := range r.SubexpNames() {
		switch {
		case name == "":
		case slices.Contains(names, name):
			names = append(names, name+" twice")
		default:
			names = append(names, name)
		}
	}
	return names
}

// read never fails: what cannot be read is Unreadable, and says why.
func (g *grammar) read(line []byte) reading {
	r := reading{raw: show(line), state: Unreadable, marked: g.stable >= 0}
	if !ascii(line) {
		r.why = "it holds bytes that are no ASCII characters; check baud rate and parity"
		return r
	}
	found := g.form.FindSubmatchIndex(line)
	if found == nil {
		r.why = "it does not have the form in the settings"
		return r
	}
	text := func(group int) (string, bool) {
		if group < 0 || found[2*group] < 0 {
			return "", false
		}
		return strings.TrimSpace(string(line[found[2*group]:found[2*group+1]])), true
	}
	g.interpret(&r, text)
	return r
}

// interpret takes the mark of range first: beside it the weight is filler.
func (g *grammar) interpret(r *reading, text func(int) (string, bool)) {
	weight, _ := text(g.weight)
	mark, hasMark := text(g.stable)
	switch s := g.settings; {
	case oneOf(s.OverTexts, weight), hasMark && oneOf(s.OverTexts, mark):
		r.state = OverRange
		return
	case oneOf(s.UnderTexts, weight), hasMark && oneOf(s.UnderTexts, mark):
		r.state = UnderLoad
		return
	}
	var ok bool
	if r.weight, ok = g.number(weight); !ok {
		r.why = fmt.Sprintf("the weight %q is no number", weight)
		return
	}
	unit, sent, known := g.unitOf(text)
	if r.unit = sent; !known || unit != g.house {
		r.state = WrongUnit
		return
	}
	r.weighed = true
	r.state, r.why = g.motion(mark, hasMark)
	if r.state == Stable {
		r.state, r.why = g.mode(text)
	}
	if r.state == Stable && r.weight < 0 {
		r.state = UnderLoad
	}
}

func (g *grammar) unitOf(text func(int) (string, bool)) (quantity.Unit, string, bool) {
	if g.unit < 0 {
		return quantity.Unit(g.settings.Unit), strings.ToLower(g.settings.Unit), true
	}
	sent, _ := text(g.unit)
	unit, known := g.settings.UnitTexts[sent]
	return quantity.Unit(unit), sent, known
}

func (g *grammar) motion(mark string, there bool) (State, string) {
	switch {
	case g.stable < 0:
		return Stable, ""
	case there && oneOf(g.settings.StableTexts, mark):
		return Stable, ""
	case there && oneOf(g.settings.MotionTexts, mark):
		return Moving, ""
	default:
		return Unreadable, fmt.Sprintf("its mark of motion %q is none of those in the settings", mark)
	}
}

func (g *grammar) mode(text func(int) (string, bool)) (State, string) {
	mark, there := text(g.gross)
	switch {
	case g.gross < 0:
		return Stable, ""
	case there && oneOf(g.settings.GrossTexts, mark):
		return Stable, ""
	case there && oneOf(g.settings.NetTexts, mark):
		return Net, ""
	default:
		return Unreadable, fmt.Sprintf("its mark of gross or net %q is none of those in the settings", mark)
	}
}

// number reads digits with an optional sign and mark, spaces anywhere: indicators pad between the sign and the digits.
func (g *grammar) number(text string) (quantity.Mass, bool) {
	text = strings.ReplaceAll(text, " ", "")
	if g.settings.DecimalMark == "," {
		if strings.Contains(text, ".") {
			return 0, false
		}
		text = strings.Replace(text, ",", ".", 1)
	}
	if unsigned, plus := strings.CutPrefix(text, "+"); plus {
		if strings.HasPrefix(unsigned, "-") {
			return 0, false
		}
		text = unsigned
	}
	m, err := quantity.ParseMass(strings.TrimSuffix(text, "."))
	// No scale shows that much, and sums of it stay far from overflow.
	return m, err == nil && m > -mostShown && m < mostShown
}

const mostShown = quantity.Mass(1_000_000_000)

func oneOf(texts []string, text string) bool {
	return slices.ContainsFunc(texts, func(t string) bool { return strings.TrimSpace(t) == text })
}

// ascii refuses the zero byte as well: a broken serial character arrives as one, and no text column holds it.
func ascii(line []byte) bool {
	return !slices.ContainsFunc(line, func(b byte) bool { return b == 0 || b >= 0x7f })
}

// show is the line itself if it is ASCII.
func show(line []byte) string {
	if ascii(line) {
		return string(line)
	}
	var out strings.Builder
	for _, b := range line {
		if b == 0 || b >= 0x7f {
			fmt.Fprintf(&out, `\x%02x`, b)
			continue
		}
		out.WriteByte(b)
	}
	return out.String()
}
