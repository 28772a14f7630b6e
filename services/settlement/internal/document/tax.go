package document

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"github.com/go-pdf/fpdf"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// TaxRecord sets a member's calendar year by the boxes of the form.
func TaxRecord(r *settlementv1.TaxRecord, house string, at time.Time) ([]byte, error) {
	p := newPage(fpdf.New("P", "mm", "Letter", ""), fmt.Sprintf("Tax figures of %s, %d", r.GetMember(), r.GetYear()), at)
	p.SetFooterFunc(func() {
		p.foot(fmt.Sprintf("Tax figures %d of member %s · page %d of {nb}", r.GetYear(), shortName(r.GetMember()), p.PageNo()))
	})
	p.AddPage()
	p.SetFont(font, "", bodySize)
	p.line(house)
	p.SetFont(font, "B", titleSize)
	p.MultiCell(0, 9, p.text(fmt.Sprintf("Tax figures for the calendar year %d", r.GetYear())), "", "L", false)
	p.SetFont(font, "", bodySize)
	p.line(fmt.Sprintf("%s, member %s", r.GetDisplayName(), shortName(r.GetMember())))
	p.Ln(2)
	p.line(r.GetCaution())
	p.title("Boxes of Form 1099-PATR")
	for _, b := range r.GetBoxes() {
		p.row(fmt.Sprintf("Box %d, %s", b.GetBox(), b.GetTitle()), b.GetAmount())
		p.small(b.GetExplanation())
	}
	p.title("Beside the boxes")
	p.row("Paid for pooled honey without reference to earnings", r.GetPoolPayments())
	where := "not in box 3; whether it belongs there is the accountant's decision"
	if r.GetPoolPaymentsInBox_3() {
		where = "in box 3, by the accountant's decision"
	}
	p.small(where)
	p.line(upper(r.GetReason()) + ".")
	for _, f := range r.GetFindings() {
		p.line("To be decided: " + f + ".")
	}
	if len(r.GetPayees()) > 0 {
		p.title("Whom the year's money went to")
	}
	for _, y := range r.GetPayees() {
		p.row(fmt.Sprintf("%s (%s)", y.GetPayee(), y.GetRight()), y.GetPaid())
	}
	var out bytes.Buffer
	if err := p.Output(&out); err != nil {
		return nil, fmt.Errorf("set the tax figures: %w", err)
	}
	return out.Bytes(), nil
}

func shortName(name string) string { return name[strings.LastIndexByte(name, '/')+1:] }

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
