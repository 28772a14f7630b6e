package paper

import (
	"fmt"
	"time"

	"barrelhead.example/gateway/internal/wording"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

// drawRecall lays out a recall pack: the answer first, then whom to call, whose honey it is, where the rest stands, and every
// transfer on the way with its pounds.
func (p *press) drawRecall(r recall) ([]byte, error) {
	called := r.called(r.GetName())
	s := newSheet(letter, "Recall pack of "+called, r.newest())
	s.numbered(p.Cooperative.Name+" · site "+p.Cooperative.Site, "Recall pack of "+called, "")
	s.AddPage()
	s.line("B", 20, "Recall pack")
	s.line("", 13, called)
	s.Ln(2)
	s.line("B", 14, r.GetAccountedPercent()+" % of "+mass(r.GetTotal())+" found.")
	s.Ln(3)
	s.facts(1,
		fact{"Asked about", asked(r)},
		fact{"Honey of", plural(len(r.GetSources()), "barrel", "barrels") + " of " + plural(int(r.GetMembers()), "member", "members")},
		fact{"Gone out with", plural(len(r.GetCustomers()), "shipment", "shipments")},
		fact{"The books took", fmt.Sprintf("%d ms", r.GetElapsedMilliseconds())},
	)
	s.Ln(2)
	p.recallTables(s, r)
	s.recallNotes(r)
	return s.bytes()
}

// asked is the full name of what was asked about, and the day a lot is best by.
func asked(r recall) string {
	if best := r.places[r.GetName()].GetBestByDate(); best != "" {
		return r.GetName() + ", best by " + day(best)
	}
	return r.GetName()
}

// newest is the time of the last transfer on the paper.
func (r recall) newest() time.Time {
	if n := len(r.GetTransfers()); n > 0 {
		return r.GetTransfers()[n-1].GetTime().AsTime()
	}
	return time.Unix(0, 0).UTC()
}

func (p *press) recallTables(s *sheet, r recall) {
	w := s.width()
	p.recallCustomers(s, r)
	s.table("Still in the house, or lost", []column{{"Where", w * 0.8, "L"}, {"Weight", w * 0.2, "R"}}, func(row func(...string)) {
		for _, e := range r.GetElsewhere() {
			row(r.withDay(e.GetName()), mass(e.GetMass()))
		}
	})
	s.table("Whose honey it is", []column{{"Barrel", w * 0.3, "L"}, {"Member", w * 0.16, "L"}, {"Ticket", w * 0.38, "L"}, {"Weight", w * 0.16, "R"}}, func(row func(...string)) {
		for _, one := range r.GetSources() {
			row(r.called(one.GetStockItem()), orNone(last(one.GetMember())), orNone(r.brief[one.GetTicket()]), mass(one.GetMass()))
		}
	})
	s.recallClaims(r)
	edges := []column{{"When", w * 0.2, "L"}, {"From", w * 0.27, "L"}, {"To", w * 0.27, "L"}, {"By", w * 0.13, "L"}, {"Weight", w * 0.13, "R"}}
	s.table("Every transfer on the way", edges, func(row func(...string)) {
		for _, t := range r.GetTransfers() {
			row(p.minute(t.GetTime()), r.called(t.GetFrom()), r.called(t.GetTo()), last(t.GetActor()), mass(t.GetMass()))
		}
	})
}

// recallCustomers writes whom to call, with who took it there and when (21 CFR 1.345), and what each has to look for.
func (p *press) recallCustomers(s *sheet, r recall) {
	w := s.width()
	columns := []column{{"Customer", w * 0.42, "L"}, {"Carrier, and when it left", w * 0.42, "L"}, {"Weight", w * 0.16, "R"}}
	s.table("Customers to call", columns, func(row func(...string)) {
		for _, c := range r.GetCustomers() {
			row(c.GetCustomer(), orNone(c.GetCarrier())+", "+p.minute(c.GetShipTime()), mass(c.GetMass()))
			if c.GetRecallContact() == "" {
				s.under(wording.NoContact)
			} else {
				s.under("call " + c.GetRecallContact())
			}
			if c.GetAddress() != "" {
				s.under("at " + c.GetAddress())
			}
			if c.GetCarrierTelephone() != "" {
				s.under("carrier " + c.GetCarrierTelephone() + ", " + c.GetCarrierAddress())
			}
			for _, x := range c.GetReceived() {
				s.under("has " + r.received(x))
			}
			if back(c) {
				s.under("sent back besides: " + mass(c.GetReturned()))
			}
			s.under("shipment " + last(c.GetShipment()))
		}
	})
}

// received is what a customer has to look for.
func (r recall) received(x *inventoryv1.TraceReceived) string {
	text := r.withDay(x.GetPlace())
	if x.GetJars() > 0 {
		text = plural(x.GetJars(), "jar", "jars") + " of " + text
	}
	if x.GetContainers() != "" {
		text += ", in " + x.GetContainers()
	}
	return text
}

// under wraps a line below a row, set in.
func (s *sheet) under(text string) {
	s.together(9)
	left, _, _, _ := s.GetMargins()
	s.SetLeftMargin(left + 5)
	s.SetX(left + 5)
	s.paragraph("", 8.5, text)
	s.SetLeftMargin(left)
	s.SetX(left)
}

// table writes a heading and its rows, with the heads again on each page.
func (s *sheet) table(title string, columns []column, fill func(row func(cells ...string))) {
	s.together(24)
	s.line("B", 11, title)
	s.heads(columns)
	empty := true
	fill(func(cells ...string) {
		empty = false
		page := s.PageNo()
		if s.together(6); s.PageNo() != page {
			s.heads(columns)
		}
		s.row(columns, "", cells...)
	})
	if empty {
		s.paragraph("", 9, "None.")
	}
	s.Ln(4)
}

func (s *sheet) recallNotes(r recall) {
	s.together(36)
	s.rule()
	if n := r.GetOmittedTransfers(); n > 0 {
		s.paragraph("B", 9, fmt.Sprintf("%d older transfers are not listed; the file for spreadsheets leaves out the same.", n))
	}
	for _, text := range []string{
		"A charge is taken to be mixed through: what leaves it carries its barrels in the proportions of that moment. 0.0 stands for traces below a thousandth.",
		"In a recall tell the authority promptly; reportable-food rules may apply. Records must be ready within 24 hours of an official request (21 CFR 1.361), and tell one step forward with the transporter, lot codes and quantities (21 CFR 1.345). Local codes and licensed practice govern.",
		"Do not feed honey to infants under 12 months of age.",
	} {
		s.paragraph("", 8.5, text)
		s.Ln(1)
	}
}
