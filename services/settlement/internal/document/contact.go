package document

import (
	"strings"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// contact sets how to reach the office, above how to question a line. Nothing is set where the cooperative set nothing.
func (p *page) contact(c *settlementv1.OfficeContact) {
	if c == nil {
		return
	}
	var lines []string
	if c.GetPostalAddress() != "" {
		lines = append(lines, "By post: "+c.GetPostalAddress())
	}
	if c.GetTelephone() != "" {
		lines = append(lines, "By telephone: "+c.GetTelephone())
	}
	if c.GetEmail() != "" {
		lines = append(lines, "By mail: "+c.GetEmail())
	}
	p.room(40)
	p.title("How to reach the office")
	p.line(strings.Join(lines, "\n"))
	p.Ln(2)
}
