package document

import (
	"fmt"
	"strings"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/quantity"
)

// column is one of a table: its heading, its width in millimetres, and L or R.
type column struct {
	head  string
	wide  float64
	align string
}

// table sets a heading and rows, and the heading again on a new page. Words too long for their column are cut.
func (p *page) table(columns []column, rows [][]string) {
	_, height := p.GetPageSize()
	head := func() {
		p.SetFont(font, "B", smallSize)
		for _, c := range columns {
			p.CellFormat(c.wide, lineHeight, p.text(c.head), "B", 0, c.align, false, 0, "")
		}
		p.Ln(-1)
		p.SetFont(font, "", smallSize)
	}
	head()
	for _, row := range rows {
		if p.GetY()+lineHeight > height-margin-6 {
			p.AddPage()
			head()
		}
		for i, c := range columns {
			p.CellFormat(c.wide, lineHeight, p.text(p.fitted(row[i], c.wide-1)), "", 0, c.align, false, 0, "")
		}
		p.Ln(-1)
	}
	p.SetFont(font, "", bodySize)
}

func (p *page) fitted(text string, wide float64) string {
	for p.GetStringWidth(p.text(text)) > wide && len(text) > 1 {
		runes := []rune(strings.TrimSuffix(text, "…"))
		text = string(runes[:len(runes)-1]) + "…"
	}
	return text
}

// deliveries sets every barrel as it was weighed and graded.
func (p *page) deliveries(s *settlementv1.Statement) {
	if len(s.GetDeliveries()) == 0 {
		return
	}
	p.title("What you delivered, in " + unitOf(s))
	columns := []column{
		{"Delivered", 20, "L"},
		{"Ticket", 29, "L"},
		{"Barrel", 18, "L"},
		{"Gross", 15, "R"},
		{"Tare", 12, "R"},
		{"Net", 16, "R"},
		{"Water %", 14, "R"},
		{"  Colour, grade", 38, "L"},
		{"Paid", 17, "R"},
	}
	var rows [][]string
	for _, d := range s.GetDeliveries() {
		class := strings.ToLower(strings.ReplaceAll(d.GetColorClass(), "_", " "))
		if d.GetGrade() != "" {
			class += ", " + d.GetGrade()
		}
		if d.GetWithdrawn() {
			class = "ticket void"
		}
		rows = append(rows, []string{
			d.GetDeliveryDate(), d.GetTicketNumber(), d.GetDrumTag(), figure(d.GetGross()), figure(d.GetTare()), figure(d.GetNet()), d.GetMoisturePercent(), "  " + class, figure(d.GetPayable()),
		})
	}
	p.table(columns, rows)
	for _, d := range s.GetDeliveries() {
		if d.GetCorrection() != "" {
			p.small(fmt.Sprintf("Barrel %s: %s.", d.GetDrumTag(), d.GetCorrection()))
		}
		if d.GetSharePercent() != "" {
			p.small(fmt.Sprintf("Barrel %s: your part is %s %%; gross, tare and net are of the whole barrel, paid is your part.", d.GetDrumTag(), d.GetSharePercent()))
		}
	}
}

func unitOf(s *settlementv1.Statement) string {
	return strings.ToLower(s.GetDeliveries()[0].GetNet().GetUnit())
}

func figure(m *typev1.Mass) string {
	if m == nil {
		return "–"
	}
	return quantity.Grouped(m.GetValue())
}

// containers sets what the member has out.
func (p *page) containers(s *settlementv1.Statement) {
	if len(s.GetContainers()) == 0 {
		return
	}
	p.title("Our containers with you")
	for _, c := range s.GetContainers() {
		text := fmt.Sprintf("%s: %d out (%d handed out, %d came back)", upper(c.GetContainer()), c.GetOut(), c.GetGivenOut(), c.GetCameBack())
		if c.GetLost() > 0 {
			text += fmt.Sprintf("; %d said to be lost", c.GetLost())
		}
		p.row(text, c.GetDeposit())
	}
	p.row("Deposits on them", s.GetContainerDeposits())
	p.small("Deposits were charged when the containers were handed out, and are given back with them.")
}
