package paper

import (
	"fmt"
	"strings"

	"github.com/boombuler/barcode/code128"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

// moduleWidth and barHeight of the symbol: the least of the GS1 General Specifications for logistic labels, from memory.
const (
	moduleWidth = 0.495
	barHeight   = 32.0
)

// filled is a barrel with its ticket and the first ticket it was on, whose number it keeps through every reissue.
type filled struct {
	barrel        *intakev1.Barrel
	ticket, first *intakev1.Ticket
}

// code is what the bars say and what is printed below them. Without a company prefix it is the cooperative's own number
// in plain Code 128, which no scanner takes for a shipping container code.
func (p *press) code(f filled) (bars, below string, err error) {
	if p.Prefix == "" {
		own := fmt.Sprintf("%s-%d", f.first.GetNumber(), f.barrel.GetLine())
		return own, own, nil
	}
	number, err := sscc(p.Prefix, f.first.GetNumber(), int(f.barrel.GetLine()))
	if err != nil {
		return "", "", err
	}
	return string(code128.FNC1) + "00" + number, "(00) " + number, nil
}

// drumLabel draws the label of a filled drum on 4 × 6 inch stock. It says whose honey it is to nobody.
func (p *press) drumLabel(f filled) ([]byte, error) {
	bars, below, err := p.code(f)
	if err != nil {
		return nil, err
	}
	b := f.barrel
	s := newSheet(drumStock, "Drum "+b.GetDrumTag(), b.GetWeighTime().AsTime())
	s.AddPage()
	s.line("", 10, p.Cooperative.Name+" · "+p.Cooperative.Site)
	s.rule()
	s.line("", 11, "Drum")
	s.line("B", 40, b.GetDrumTag())
	s.Ln(2)
	s.line("B", 28, strings.ToUpper(b.GetVariety()))
	s.Ln(3)
	s.pairOf("Net", mass(b.GetNet()), "Crop year", fmt.Sprint(b.GetCropYear()))
	s.pairOf("Ticket", f.ticket.GetNumber(), "Line", fmt.Sprint(b.GetLine()))
	s.Ln(1)
	s.paragraph("", 8, "Floral source as declared. Grade and colour: see the certificate. Honey is not for infants under 12 months. "+
		"A drum under pressure can burst: vent it first.")
	return s.labelled(bars, below, p.Prefix == "")
}

// pairOf writes two labelled values side by side.
func (s *sheet) pairOf(label1, value1, label2, value2 string) {
	first := s.width() * 0.66
	s.SetFont(sans, "", 10)
	s.cell(first, 5, label1, "L")
	s.cell(0, 5, label2, "L")
	s.Ln(4.5)
	s.SetFont(sans, "B", 18)
	s.cell(first, 8, value1, "L")
	s.cell(0, 8, value2, "L")
	s.Ln(9.5)
}

// labelled puts the bars at the foot, where a scanner looks for them.
func (s *sheet) labelled(bars, below string, own bool) ([]byte, error) {
	_, height := s.GetPageSize()
	top := height - barHeight - 13
	if err := s.barsAt(bars, below, top); err != nil {
		return nil, err
	}
	if own {
		s.SetY(top - 5)
		s.SetFont(sans, "", 8)
		s.cell(0, 4, "our own number, not a shipping container code", "C")
	}
	return s.bytes()
}

// barsAt draws bars centred with their quiet zones, and what they say below them.
func (s *sheet) barsAt(bars, below string, top float64) error {
	modules, err := barsWidth(bars)
	if err != nil {
		return err
	}
	width, _ := s.GetPageSize()
	module := min(moduleWidth, (width-2)/float64(modules+20))
	wide := float64(modules) * module
	if err := s.bars(bars, (width-wide)/2, top, module, barHeight); err != nil {
		return err
	}
	s.SetY(top + barHeight + 1)
	s.SetFont(mono, "B", 14)
	s.cell(0, 6, below, "C")
	return nil
}
