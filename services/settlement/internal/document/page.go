package document

import (
	"strings"
	"time"

	"github.com/go-pdf/fpdf"

	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/quantity"
)

// Measures in millimetres on a letter sheet. Large type: it is read at the kitchen table.
const (
	margin     = 18.0
	lineHeight = 5.5
	amountWide = 36.0
	bodySize   = 11.0
	smallSize  = 9.0
	titleSize  = 18.0
	font       = "Helvetica"
)

type page struct {
	*fpdf.Fpdf
	// text turns UTF-8 into what the built-in fonts hold.
	text func(string) string
}

// newPage prepares a document. The same content at the same moment gives the same bytes.
func newPage(pdf *fpdf.Fpdf, title string, at time.Time) *page {
	p := &page{Fpdf: pdf}
	translate := pdf.UnicodeTranslatorFromDescriptor("")
	// The minus of print is not in the fonts' code page; its en dash looks the same.
	p.text = func(t string) string { return translate(strings.ReplaceAll(t, "−", "–")) }
	pdf.SetCreationDate(at.UTC())
	pdf.SetModificationDate(at.UTC())
	pdf.SetCatalogSort(true)
	pdf.SetTitle(title, true)
	pdf.SetMargins(margin, margin, margin)
	pdf.SetAutoPageBreak(true, margin+6)
	pdf.AliasNbPages("")
	return p
}

// foot sets the line at the bottom of a page.
func (p *page) foot(text string) {
	p.SetY(-margin)
	p.SetFont(font, "", smallSize)
	p.CellFormat(0, lineHeight, p.text(text), "T", 0, "C", false, 0, "")
}

// small sets words below what they explain.
func (p *page) small(text string) {
	p.SetFont(font, "", smallSize)
	p.MultiCell(0, lineHeight-1, p.text(text), "", "L", false)
	p.SetFont(font, "", bodySize)
}

func (p *page) line(text string) { p.MultiCell(0, lineHeight, p.text(text), "", "L", false) }

// room begins a new page where fewer millimetres are left: what belongs together stays together.
func (p *page) room(millimetres float64) {
	_, height := p.GetPageSize()
	if p.GetY()+millimetres > height-margin-6 {
		p.AddPage()
	}
}

func (p *page) title(text string) {
	p.room(22) // a title stands over something
	p.Ln(4)
	p.SetFont(font, "B", bodySize+1)
	p.CellFormat(0, lineHeight+1, p.text(text), "B", 1, "L", false, 0, "")
	p.SetFont(font, "", bodySize)
}

// row sets words on the left, as many lines as they need, and an amount on the right.
func (p *page) row(text string, amount *typev1.Money) {
	width, _ := p.GetPageSize()
	y := p.GetY()
	p.MultiCell(width-2*margin-amountWide, lineHeight, p.text(text), "", "L", false)
	below := p.GetY()
	if below < y { // the words began a new page
		y = below - lineHeight
	}
	p.SetXY(width-margin-amountWide, y)
	p.CellFormat(amountWide, lineHeight, p.text(inWords(amount)), "", 0, "R", false, 0, "")
	p.SetXY(margin, below)
}

func inWords(m *typev1.Money) string {
	unsigned, negative := strings.CutPrefix(m.GetAmount(), "-")
	if negative {
		return "−" + quantity.Grouped(unsigned) + " " + m.GetCurrencyCode()
	}
	return quantity.Grouped(unsigned) + " " + m.GetCurrencyCode()
}
