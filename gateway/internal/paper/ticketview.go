package paper

import (
	"fmt"
	"slices"
	"strings"
	"time"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

// delivery is a ticket with what is known of its neighbours.
type delivery struct {
	ticket *intakev1.Ticket
	// replaces and replacedBy are printed numbers; empty where there is no such ticket, and "another ticket" where the
	// reader may not know it.
	replaces, replacedBy string
	scales               []*intakev1.Scale
}

// fact is one labelled line.
type fact struct{ label, value string }

// mark is what a reader must see before anything else.
type mark struct{ word, why string }

// countsNot are the marks of tickets that count for nothing, pale over every page.
var countsNot = map[intakev1.TicketState]string{
	intakev1.TicketState_TICKET_STATE_OPEN: "NOT CLOSED", intakev1.TicketState_TICKET_STATE_VOIDED: "VOID",
	intakev1.TicketState_TICKET_STATE_SUPERSEDED: "SUPERSEDED", intakev1.TicketState_TICKET_STATE_CANCELLED: "CANCELLED",
}

func (p *press) marks(d delivery) []mark {
	t := d.ticket
	var marks []mark
	switch t.GetState() { //nolint:exhaustive // a closed ticket stands without a mark
	case intakev1.TicketState_TICKET_STATE_OPEN:
		marks = append(marks, mark{"NOT CLOSED", "Still being weighed. This is no receipt yet."})
	case intakev1.TicketState_TICKET_STATE_VOIDED:
		marks = append(marks, mark{"VOID", strings.TrimSpace("Withdrawn " + p.minute(t.GetVoid().GetApproveTime()) + ", not replaced. Its barrels do not count. " + because(t))})
	case intakev1.TicketState_TICKET_STATE_SUPERSEDED:
		marks = append(marks, mark{"SUPERSEDED", strings.TrimSpace("Replaced by " + d.replacedBy + " on " + p.minute(t.GetVoid().GetApproveTime()) + ". This ticket counts no more. " + because(t))})
	case intakev1.TicketState_TICKET_STATE_CANCELLED:
		marks = append(marks, mark{"CANCELLED", "Given up before it was closed. Its number stays used, its barrels do not count."})
	}
	if d.replaces != "" {
		marks = append(marks, mark{"REISSUED", "Replaces " + d.replaces + ", which counts no more. The barrels, their weights and samples are the same."})
	}
	if t.GetVoid() != nil && t.GetVoid().GetApprover() == "" {
		marks = append(marks, mark{"IN QUESTION", "Somebody asked to withdraw this ticket and it is not decided. Until then it stands. " + because(t)})
	}
	return marks
}

func because(t *intakev1.Ticket) string {
	if reason := t.GetVoid().GetReason(); reason != "" {
		return "Why: " + strings.TrimSuffix(reason, ".") + "."
	}
	return ""
}

func (p *press) facts(d delivery) []fact {
	t := d.ticket
	var facts []fact
	// One of several owners is not told who the others are, nor who drove.
	if t.GetMember() != "" {
		facts = append(facts, fact{"Member", last(t.GetMember()) + "  " + t.GetMemberDisplayName()}, fact{"Delivered by", orElse(t.GetHauler(), "the member")})
	}
	return append(facts, []fact{
		{"Delivered", day(t.GetDeliveryDate())},
		{"Crop year", fmt.Sprint(t.GetCropYear())},
		{"Declared floral source", strings.Join(varieties(t), ", ")},
		{"Harvest, treatments", map[bool]string{true: "declared", false: "NOT declared"}[t.GetHarvestDeclared()]},
		{"Opened", p.minute(t.GetOpenTime())},
		{"Closed", p.minute(t.GetCloseTime())},
		{"Weigher", last(t.GetWeigher())},
		{"Entered", p.minute(t.GetRecordTime())},
	}...)
}

// owners are those who share a delivery, each with its part.
func owners(t *intakev1.Ticket) []fact {
	var facts []fact
	for _, o := range t.GetOwners() {
		facts = append(facts, fact{"Owner of " + o.GetSharePercent() + " %", last(o.GetMember()) + "  " + o.GetMemberDisplayName()})
	}
	return facts
}

// tried are the scales with the check the ticket was closed on.
func (p *press) tried(d delivery) []fact {
	var facts []fact
	for _, s := range d.scales {
		facts = append(facts, fact{"Scale " + last(s.GetName()), p.checked(s)})
	}
	return facts
}

func orElse(text, otherwise string) string {
	if text == "" {
		return otherwise
	}
	return text
}

// checked says that a scale was tried that day, as the receipt of that day does.
func (p *press) checked(s *intakev1.Scale) string {
	// Eight characters of the check's id find it, and a whole UUID fits no ticket.
	return fmt.Sprintf("checked %s, passed (%.8s)", p.minute(s.GetLastCheck().GetCheckTime()), last(s.GetLastCheck().GetName()))
}

// known keeps the scales of the ticket whose newest check is the one it was closed on. A later check says nothing about
// these weights, and the ticket must come out the same when it is printed again in winter.
func known(t *intakev1.Ticket, scales []*intakev1.Scale) []*intakev1.Scale {
	var kept []*intakev1.Scale
	for _, s := range scales {
		used := slices.ContainsFunc(t.GetBarrels(), func(b *intakev1.Barrel) bool { return b.GetScale() == s.GetName() })
		check := s.GetLastCheck()
		before := t.GetCloseTime() == nil || !check.GetCheckTime().AsTime().After(t.GetCloseTime().AsTime())
		if used && check.GetPassed() && check.GetCheckDate() == t.GetDeliveryDate() && before {
			kept = append(kept, s)
		}
	}
	return kept
}

func varieties(t *intakev1.Ticket) []string {
	var found []string
	for _, b := range t.GetBarrels() {
		if !slices.Contains(found, b.GetVariety()) {
			found = append(found, b.GetVariety())
		}
	}
	return found
}

// remarks explain the signs in the table: weights typed by hand and unusual ones.
func remarks(t *intakev1.Ticket) []string {
	var out []string
	for _, b := range t.GetBarrels() {
		var parts []string
		if b.GetManual() {
			parts = append(parts, "weight typed by hand")
		}
		parts = append(parts, b.GetWarnings()...)
		if b.GetReason() != "" {
			parts = append(parts, "reason: "+b.GetReason())
		}
		if len(parts) > 0 {
			out = append(out, fmt.Sprintf("Line %d: %s.", b.GetLine(), strings.TrimSuffix(strings.Join(parts, "; "), ".")))
		}
	}
	return out
}

// terms is what every ticket says about itself.
func (p *press) terms(t *intakev1.Ticket) []string {
	return []string{
		"Weights are subject to grade. What is paid follows from the certificate of each barrel and the prices in force on the delivery date.",
		p.dispute(t),
		"Of each sample, portion A goes to the laboratory, B is the member's, and C is kept sealed for a referee.",
		"Pay weights only come from a scale that is legal for trade and approved by the local weights authority; where a licensed weigher is required, that person signs.",
	}
}

// dispute promises no date the office has not set.
func (p *press) dispute(t *intakev1.Ticket) string {
	text := "If anything here looks wrong, say so at the dock or to the office"
	delivered, err := time.Parse(time.DateOnly, t.GetDeliveryDate())
	if err == nil && p.DisputeDays > 0 {
		text += " by " + delivered.AddDate(0, 0, p.DisputeDays).Format("2 Jan 2006")
	}
	return text + ", with the ticket and line number. A ticket is never altered: a wrong one is withdrawn and replaced by one that names it."
}

func counted(t *intakev1.Ticket) string {
	return plural(len(t.GetBarrels()), "barrel", "barrels")
}

// made is the time the document carries: that of the last thing that happened to the ticket.
func made(t *intakev1.Ticket) time.Time {
	for _, when := range []interface{ AsTime() time.Time }{t.GetVoid().GetApproveTime(), t.GetVoid().GetRequestTime(), t.GetCloseTime()} {
		if at := when.AsTime(); at.Unix() > 0 {
			return at
		}
	}
	return t.GetOpenTime().AsTime()
}
