package paper

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"github.com/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/gomonobold"
	"golang.org/x/image/font/gofont/goregular"
)

const (
	sans = "go"
	mono = "gomono"
)

// sheet is a document in the making. Its bytes depend on what is drawn and on nothing else: the same resource printed
// twice is the same file.
type sheet struct {
	*fpdf.Fpdf
}

// size of paper in millimetres.
type size struct{ width, height, margin float64 }

var (
	letter      = size{215.9, 279.4, 15}
	drumStock   = size{101.6, 152.4, 5}
	sampleStock = size{50.8, 25.4, 1.5}
)

// newSheet begins a document that says it was made at a time of the resource, not at that of printing.
func newSheet(paper size, title string, made time.Time) *sheet {
	pdf := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: paper.width, Ht: paper.height}})
	pdf.SetCreationDate(made.UTC())
	pdf.SetModificationDate(made.UTC())
	pdf.SetCatalogSort(true)
	pdf.SetProducer("Barrelhead", true)
	pdf.SetTitle(title, true)
	pdf.SetMargins(paper.margin, paper.margin, paper.margin)
	pdf.SetAutoPageBreak(false, paper.margin)
	// The library writes into the bytes it is given when it cuts a font down to the letters used: shared ones would race
	// and make each document depend on those before it.
	pdf.AddUTF8FontFromBytes(sans, "", bytes.Clone(goregular.TTF))
	pdf.AddUTF8FontFromBytes(sans, "B", bytes.Clone(gobold.TTF))
	pdf.AddUTF8FontFromBytes(mono, "B", bytes.Clone(gomonobold.TTF))
	return &sheet{pdf}
}

// numbered gives every page a head line and a foot line with the page count, and, where the paper counts no more, the mark
// that says so.
func (s *sheet) numbered(head, foot, mark string) {
	s.SetAutoPageBreak(true, 18)
	s.AliasNbPages("{nb}")
	s.SetHeaderFuncMode(func() {
		if mark != "" {
			s.across(mark)
		}
		s.SetFont(sans, "", 9)
		s.cell(s.width()*0.7, 5, head, "L")
		s.SetFont(sans, "B", 9)
		s.cell(0, 5, mark, "R")
		s.Ln(7)
	}, false)
	s.SetFooterFunc(func() {
		s.SetY(-14)
		s.SetFont(sans, "", 8.5)
		s.cell(0, 4, fmt.Sprintf("%s · page %d of {nb}", foot, s.PageNo()), "C")
	})
}

// width of the area inside the margins.
func (s *sheet) width() float64 {
	w, _ := s.GetPageSize()
	left, _, right, _ := s.GetMargins()
	return w - left - right
}

// cell writes one line; text that is too long for its cell is drawn smaller rather than over its neighbour.
func (s *sheet) cell(w, h float64, text, align string) {
	text = printable(text)
	points, _ := s.GetFontSize()
	room := w
	if room == 0 {
		room = s.width()
	}
	if needed := s.GetStringWidth(text) + 2*s.GetCellMargin(); needed > room {
		s.SetFontSize(points * room / needed)
	}
	s.CellFormat(w, h, text, "", 0, align, false, 0, "")
	s.SetFontSize(points)
}

// line writes one line and goes to the next.
func (s *sheet) line(style string, points float64, text string) {
	s.SetFont(sans, style, points)
	s.cell(0, points*0.5, text, "L")
	s.Ln(points * 0.5)
}

// paragraph wraps text over the width that is left.
func (s *sheet) paragraph(style string, points float64, text string) {
	s.SetFont(sans, style, points)
	s.MultiCell(0, points*0.45, printable(text), "", "L", false)
}

// together starts a new page when less than height is left, so that an amount and its reason stay on one page.
func (s *sheet) together(height float64) {
	_, pageHeight := s.GetPageSize()
	_, bottom := s.GetAutoPageBreak()
	if s.GetY()+height > pageHeight-bottom {
		s.AddPage()
	}
}

func (s *sheet) rule() {
	left, _, _, _ := s.GetMargins()
	s.SetLineWidth(0.2)
	s.Line(left+s.GetCellMargin(), s.GetY(), left+s.width()-s.GetCellMargin(), s.GetY())
	s.Ln(1.5)
}

// boxed writes a mark nobody can overlook.
func (s *sheet) boxed(mark, why string) {
	left, _, _, _ := s.GetMargins()
	top := s.GetY()
	s.SetY(top + 1.5)
	s.SetFont(sans, "B", 18)
	s.cell(0, 8, mark, "C")
	s.Ln(8)
	s.SetFont(sans, "", 10)
	s.MultiCell(0, 4.8, printable(why), "", "C", false)
	s.SetLineWidth(0.8)
	s.Rect(left, top, s.width(), s.GetY()+1.5-top, "D")
	s.SetLineWidth(0.2)
	s.Ln(4)
}

// across writes a pale word over the whole page, for copies that lost their first page.
func (s *sheet) across(word string) {
	w, h := s.GetPageSize()
	x, y := s.GetXY()
	s.SetFont(sans, "B", 84)
	s.SetTextColor(225, 225, 225)
	s.TransformBegin()
	s.TransformRotate(50, w/2, h/2)
	s.Text(w/2-s.GetStringWidth(word)/2, h/2+10, word)
	s.TransformEnd()
	s.SetTextColor(0, 0, 0)
	s.SetXY(x, y)
}

// column of a table: heading, width in millimetres, alignment.
type column struct {
	head  string
	width float64
	align string
}

func (s *sheet) heads(columns []column) {
	s.SetFont(sans, "B", 8.5)
	for _, c := range columns {
		s.cell(c.width, 5, c.head, c.align)
	}
	s.Ln(5)
	s.rule()
}

func (s *sheet) row(columns []column, style string, cells ...string) {
	s.SetFont(sans, style, 8.5)
	for i, c := range columns {
		s.cell(c.width, 4.6, cells[i], c.align)
	}
	s.Ln(4.6)
}

// bytes ends the document.
func (s *sheet) bytes() ([]byte, error) {
	var out bytes.Buffer
	if err := s.Output(&out); err != nil {
		return nil, fmt.Errorf("write a PDF: %w", err)
	}
	return out.Bytes(), nil
}

// printable keeps what the fonts and their tables can hold: no control characters, nothing above the basic plane.
func printable(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n':
			return r
		case r < ' ' || r == 0x7f:
			return ' '
		case r > 0xffff:
			return '?'
		}
		return r
	}, text)
}
