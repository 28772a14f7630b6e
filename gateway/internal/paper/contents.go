package paper

import (
	"fmt"
	"strings"
	"time"

	"github.com/boombuler/barcode/code128"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

// element is one application identifier of GS1 with its data.
type element struct{ ai, data string }

// symbolOf is what bars of GS1-128 say, and what is printed below them. An element whose length is not known by its identifier comes
// last, so that none needs a separator.
func symbolOf(elements ...element) (bars, below string) {
	bars = string(code128.FNC1)
	for n, e := range elements {
		bars += e.ai + e.data
		if n > 0 {
			below += " "
		}
		below += "(" + e.ai + ") " + e.data
	}
	return bars, below
}

// contents are what the bars of a pallet say of the jars on it, in two symbols: GTIN of the jars, best-by day and count (02, 15, 37),
// and their lot (10). Identifier 15 stands beside a GTIN only, 37 beside 00 and 02, and 02 is of one trade item: a pallet of several
// lots, of jars without a GTIN or without a shipping container code has none (GS1 syntax dictionary).
func contents(m *inventoryv1.Pallet) [][]element {
	if m.GetSscc() == "" || len(m.GetLines()) != 1 || m.GetLines()[0].GetGtin() == "" {
		return nil
	}
	l := m.GetLines()[0]
	of := []element{{"02", gtin14(l.GetGtin())}}
	if day, err := time.Parse(time.DateOnly, l.GetBestByDate()); err == nil {
		of = append(of, element{"15", day.Format("060102")})
	}
	return [][]element{append(of, element{"37", fmt.Sprint(l.GetJars())}), {{"10", l.GetLotCode()}}}
}

// gtin14 writes a GTIN of 8, 12 or 13 digits with the zeros that make it 14.
func gtin14(gtin string) string { return strings.Repeat("0", max(0, 14-len(gtin))) + gtin }

// contentLabel draws a pallet of one lot: what is on it, for people and for scanners, above the code of the pallet. The bars take the
// room the number has on other labels.
func (p *press) contentLabel(s *sheet, m *inventoryv1.Pallet, symbols [][]element) error {
	l := m.GetLines()[0]
	s.line("", 8, p.Cooperative.Name+" · "+p.Cooperative.Site)
	s.line("B", 20, fmt.Sprintf("Pallet %d", m.GetNumber()))
	s.line("B", 12, lotLine(l))
	s.paragraph("", 7, infantCaution)
	for n, symbol := range symbols {
		bars, below := symbolOf(symbol...)
		if err := s.barsAt(bars, below, contentTop+float64(n)*contentPitch); err != nil {
			return err
		}
	}
	return nil
}

// Where the first symbol of a content label stands, and how far below it the next.
const (
	contentTop   = 29.4
	contentPitch = 39
)

const infantCaution = "Honey is not for infants under 12 months."

// lotLine says what jars of one lot are.
func lotLine(l *inventoryv1.PalletLine) string {
	text := fmt.Sprintf("Lot %s: %d jars", l.GetLotCode(), l.GetJars())
	if l.GetBestByDate() != "" {
		text += ", best by " + day(l.GetBestByDate())
	}
	return text
}
