package paper

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

// narrow is how many characters a narrow printer has on a line.
const narrow = 42

// roll is text for a narrow printer: lines of at most that many characters, nothing but text and line ends.
type roll struct{ strings.Builder }

func (r *roll) put(line string) { r.WriteString(strings.TrimRight(line, " ") + "\n") }

func (r *roll) wrap(text string) {
	for _, paragraph := range strings.Split(plain(text), "\n") {
		for _, line := range wrapped(paragraph, narrow) {
			r.put(line)
		}
	}
}

func (r *roll) centred(text string) {
	for _, line := range wrapped(plain(text), narrow) {
		r.put(strings.Repeat(" ", (narrow-utf8.RuneCountInString(line))/2) + line)
	}
}

func (r *roll) rule(with string) { r.put(strings.Repeat(with, narrow)) }

// pair writes a label at the left and a value at the right, on two lines when they do not fit on one.
func (r *roll) pair(label, value string) {
	label, value = plain(label), plain(value)
	room := narrow - utf8.RuneCountInString(label) - utf8.RuneCountInString(value)
	if room >= 1 {
		r.put(label + strings.Repeat(" ", room) + value)
		return
	}
	r.wrap(label)
	for _, line := range wrapped(value, narrow-2) {
		r.put("  " + line)
	}
}

// plainer replaces the signs that the character sets of narrow printers lack.
var plainer = strings.NewReplacer("−", "-", "–", "-", "—", "-", "×", "x", "÷", "/", "°", " deg", "…", "...", "’", "'", "“", `"`, "”", `"`, "\u00a0", " ")

// plain keeps letters, whatever their accents; printers that lack one print a blank.
func plain(text string) string { return printable(plainer.Replace(text)) }

// wrapped breaks at spaces, and inside a word only when it is longer than a line.
func wrapped(text string, width int) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(text) {
		for utf8.RuneCountInString(word) > width {
			if line != "" {
				lines, line = append(lines, line), ""
			}
			runes := []rune(word)
			lines, word = append(lines, string(runes[:width])), string(runes[width:])
		}
		switch {
		case line == "":
			line = word
		case utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) <= width:
			line += " " + word
		default:
			lines, line = append(lines, line), word
		}
	}
	if line != "" || len(lines) == 0 {
		lines = append(lines, line)
	}
	return lines
}

// ticketText writes a receiving ticket for a narrow printer.
func (p *press) ticketText(d delivery) []byte {
	t := d.ticket
	var r roll
	r.centred(p.Cooperative.Name)
	r.centred("site " + p.Cooperative.Site)
	r.put("")
	r.centred("RECEIVING TICKET")
	r.centred(t.GetNumber())
	for _, m := range p.marks(d) {
		r.rule("*")
		r.centred("*** " + m.word + " ***")
		r.wrap(m.why)
		r.rule("*")
	}
	r.put("")
	for _, f := range slices.Concat(p.facts(d), owners(t), p.tried(d)) {
		r.pair(f.label, f.value)
	}
	r.rule("=")
	for _, b := range t.GetBarrels() {
		r.barrel(p, b)
	}
	r.pair(strings.ToUpper(counted(t)), "NET "+mass(t.GetNetTotal()))
	r.rule("=")
	for _, text := range append(remarks(t), p.terms(t)...) {
		r.wrap(text)
		r.put("")
	}
	r.put("Barrel count agreed: " + counted(t))
	for _, who := range []string{"Weigher", "Driver"} {
		r.put("\n\n" + strings.Repeat("_", narrow))
		r.put(who + ", signature and date")
	}
	r.put("")
	r.centred("end of ticket " + t.GetNumber() + " - page 1 of 1")
	return []byte(r.String())
}

func (r *roll) barrel(p *press, b *intakev1.Barrel) {
	r.pair(fmt.Sprintf("%d%s  %s", b.GetLine(), sign(b), b.GetDrumTag()), b.GetVariety())
	r.pair("   gross", mass(b.GetGross()))
	r.pair("   tare, "+words(b.GetTareKind()), mass(b.GetTare()))
	r.pair("   NET", mass(b.GetNet()))
	r.pair("   scale "+last(b.GetScale())+" at "+p.hour(b.GetWeighTime()), "sample "+orNone(last(b.GetSample())))
	r.rule("-")
}
