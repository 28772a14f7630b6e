package paper

import (
	"fmt"
	"strings"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

// ticketPDF draws a receiving ticket on Letter paper.
func (p *press) ticketPDF(d delivery) ([]byte, error) {
	t := d.ticket
	s := newSheet(letter, "Receiving ticket "+t.GetNumber(), made(t))
	s.numbered(p.Cooperative.Name+" · site "+p.Cooperative.Site, "Receiving ticket "+t.GetNumber(), countsNot[t.GetState()])
	s.AddPage()
	s.line("B", 20, "Receiving ticket "+t.GetNumber())
	s.Ln(1)
	s.line("", 13, fmt.Sprintf("%s, %s net", counted(t), mass(t.GetNetTotal())))
	s.Ln(2)
	for _, m := range p.marks(d) {
		s.boxed(m.word, m.why)
	}
	s.facts(2, p.facts(d)...)
	s.facts(1, append(owners(t), p.tried(d)...)...)
	s.Ln(3)
	s.weights(p, t)
	s.closing(p, t)
	return s.bytes()
}

// facts writes labels and values, so many pairs on a line.
func (s *sheet) facts(across int, facts ...fact) {
	pair := s.width() / float64(across)
	label := min(pair*0.45, 70)
	for i, f := range facts {
		s.SetFont(sans, "", 9)
		s.cell(label, 5, f.label, "L")
		s.SetFont(sans, "B", 9.5)
		s.cell(pair-label, 5, f.value, "L")
		if (i+1)%across == 0 || i == len(facts)-1 {
			s.Ln(5)
		}
	}
}

func (s *sheet) weights(p *press, t *intakev1.Ticket) {
	unit := "(" + orElse(unitOf(t), "lb") + ")"
	columns := []column{
		{"Line", 10, "R"},
		{"Drum", 22, "L"},
		{"Floral source", 23, "L"},
		{"Gross " + unit, 20, "R"},
		{"Tare " + unit, 18, "R"},
		{"Tare from", 29, "L"},
		{"Net " + unit, 18, "R"},
		{"Scale", 11, "R"},
		{"Time", 12, "R"},
		{"Sample", 22.9, "R"},
	}
	s.heads(columns)
	for _, b := range t.GetBarrels() {
		s.row(columns, "", fmt.Sprint(b.GetLine())+sign(b), b.GetDrumTag(), b.GetVariety(), bare(b.GetGross()), bare(b.GetTare()),
			words(b.GetTareKind()), bare(b.GetNet()), last(b.GetScale()), p.hour(b.GetWeighTime()), orNone(last(b.GetSample())))
	}
	s.rule()
	s.row(columns, "B", "", counted(t), "", "", "", "", bare(t.GetNetTotal()), "", "", "")
	s.Ln(3)
	for _, text := range remarks(t) {
		s.paragraph("", 8.5, text)
	}
	s.Ln(3)
}

// sign points to the remark of a line.
func sign(b *intakev1.Barrel) string {
	if b.GetManual() || b.GetReason() != "" || len(b.GetWarnings()) > 0 {
		return "*"
	}
	return ""
}

func unitOf(t *intakev1.Ticket) string { return strings.ToLower(t.GetNetTotal().GetUnit()) }

func (s *sheet) closing(p *press, t *intakev1.Ticket) {
	s.together(53)
	for _, text := range p.terms(t) {
		s.paragraph("", 9, text)
		s.Ln(1.2)
	}
	s.Ln(3)
	s.paragraph("B", 10, "Barrel count agreed: "+counted(t))
	s.Ln(11)
	left, _, _, _ := s.GetMargins()
	half := s.width()/2 - 6
	for i, who := range []string{"Weigher", "Driver"} {
		x := left + float64(i)*(half+12)
		s.Line(x, s.GetY(), x+half, s.GetY())
		s.SetXY(x, s.GetY()+0.5)
		s.SetFont(sans, "", 8.5)
		s.cell(half, 4, who+", signature and date", "L")
		s.SetY(s.GetY() - 0.5)
	}
}
