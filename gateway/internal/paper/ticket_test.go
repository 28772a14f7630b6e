package paper

import (
	"bytes"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

func TestTicketPDF_SaysAllThatWasWeighed(t *testing.T) {
	t.Parallel()
	pdf, err := testPress(t, prefix).ticketPDF(testDelivery(24))
	require.NoError(t, err)
	count, paper := pagesOf(t, pdf)
	require.Equal(t, 1, count, "a common load fits one page")
	require.Equal(t, "612 x 792 pts (letter)", paper)
	text := wordsOf(t, pdf)
	for _, wanted := range []string{
		"Fallow Creek Honey Cooperative · site FC", "Receiving ticket FC-2026-000731", "24 barrels, 15,444.0 lb net", "M-0012 Juniper Ridge Bees", "14 Sep 2026",
		"Larkmead Honey Yard, truck 7", "basswood, clover", "declared", "dock1", "checked 14 Sep 2026 06:52, passed (7d0c)", "T3FN4HQX6",
		"Line 2: weight typed by hand; reason: indicator cable wet.", "Weights are subject to grade.", "by 14 Oct 2026", "approved by the local weights authority",
		"Barrel count agreed: 24 barrels", "Weigher, signature and date", "Driver, signature and date", "page 1 of 1",
	} {
		require.Contains(t, text, wanted)
	}
	require.NotContains(t, text, "SUPERSEDED")
	rows := textOf(t, pdf)
	for line := range strings.Lines(rows) {
		if strings.Contains(line, "FC-04432") {
			require.Equal(t, []string{"2*", "FC-04432", "clover", "686.0", "42.5", "stencilled", "643.5", "1", "07:11", "T3FN4HQX6"}, strings.Fields(line))
			return
		}
	}
	require.Fail(t, "line 2 is not on the ticket", rows)
}

func TestTicketPDF_LongOnesCountTheirPages(t *testing.T) {
	t.Parallel()
	d := testDelivery(80)
	d.ticket.State, d.replacedBy = intakev1.TicketState_TICKET_STATE_SUPERSEDED, "ticket FC-2026-000744"
	d.ticket.Void = &intakev1.TicketVoid{Approver: "users/office1", ApproveTime: at(time.Hour)}
	pdf, err := testPress(t, prefix).ticketPDF(d)
	require.NoError(t, err)
	count, _ := pagesOf(t, pdf)
	require.Equal(t, 3, count)
	text := textOf(t, pdf)
	for _, page := range []string{"page 1 of 3", "page 2 of 3", "page 3 of 3"} {
		require.Contains(t, text, page)
	}
	require.Equal(t, 3+1, strings.Count(wordsOf(t, pdf), "SUPERSEDED"), "once in its box and across each page")
	require.Contains(t, text, "FC-04510")
}

func TestTicket_MarksNameTheOtherTicket(t *testing.T) {
	t.Parallel()
	approved := &intakev1.TicketVoid{Reason: "the hauler mixed up two loads", Approver: "users/office1", ApproveTime: at(3 * time.Hour)}
	cases := map[string]struct {
		change func(*delivery)
		says   []string
	}{
		"superseded": {func(d *delivery) {
			d.ticket.State, d.ticket.Void, d.replacedBy = intakev1.TicketState_TICKET_STATE_SUPERSEDED, approved, "ticket FC-2026-000744"
		}, []string{"SUPERSEDED", "Replaced by ticket FC-2026-000744 on 14 Sep 2026 10:05. This ticket counts no more. Why: the hauler mixed up two loads."}},
		"superseded for another's": {func(d *delivery) {
			d.ticket.State, d.ticket.Void, d.replacedBy = intakev1.TicketState_TICKET_STATE_SUPERSEDED, &intakev1.TicketVoid{Approver: "users/office1", ApproveTime: at(3 * time.Hour)}, "another ticket"
		}, []string{"SUPERSEDED", "Replaced by another ticket on 14 Sep 2026 10:05. This ticket counts no more."}},
		"reissued": {func(d *delivery) { d.replaces = "ticket FC-2026-000700" }, []string{"REISSUED", "Replaces ticket FC-2026-000700, which counts no more."}},
		"void": {func(d *delivery) {
			d.ticket.State, d.ticket.Void = intakev1.TicketState_TICKET_STATE_VOIDED, approved
		}, []string{"VOID", "not replaced. Its barrels do not count."}},
		"cancelled": {func(d *delivery) { d.ticket.State = intakev1.TicketState_TICKET_STATE_CANCELLED }, []string{"CANCELLED", "Its number stays used"}},
		"open":      {func(d *delivery) { d.ticket.State = intakev1.TicketState_TICKET_STATE_OPEN }, []string{"NOT CLOSED", "This is no receipt yet."}},
		"in question": {func(d *delivery) {
			d.ticket.Void = &intakev1.TicketVoid{Reason: "wrong member", Requester: "users/dock1", RequestTime: at(3 * time.Hour)}
		}, []string{"IN QUESTION", "Until then it stands. Why: wrong member."}},
	}
	p := testPress(t, prefix)
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			d := testDelivery(2)
			c.change(&d)
			pdf, err := p.ticketPDF(d)
			require.NoError(t, err)
			texts := []string{wordsOf(t, pdf), strings.Join(strings.Fields(string(p.ticketText(d))), " ")}
			for _, says := range c.says {
				for _, text := range texts {
					require.Contains(t, text, says)
				}
			}
		})
	}
}

func TestTicket_NamesItsOwnersToWhomItMay(t *testing.T) {
	t.Parallel()
	p := testPress(t, prefix)
	d := testDelivery(2)
	d.ticket.RecordTime = at(26 * time.Hour)
	d.ticket.Owners = []*intakev1.OwnerShare{
		{Member: "members/M-0012", MemberDisplayName: "Juniper Ridge Bees", SharePercent: "66.6667"},
		{Member: "members/M-0007", MemberDisplayName: "Sedge Hollow Apiary", SharePercent: "33.3333"},
	}
	pdf, err := p.ticketPDF(d)
	require.NoError(t, err)
	for _, text := range []string{strings.Join(strings.Fields(textOf(t, pdf)), " "), strings.Join(strings.Fields(string(p.ticketText(d))), " ")} {
		require.Contains(t, text, "Owner of 66.6667 % M-0012 Juniper Ridge Bees")
		require.Contains(t, text, "Owner of 33.3333 % M-0007 Sedge Hollow Apiary")
		require.Contains(t, text, "15 Sep 2026 09:05", "an offline dock's ticket says when it was entered")
	}
	// As the service shows it to one of the owners who did not deliver.
	d.ticket.Member, d.ticket.MemberDisplayName, d.ticket.Hauler, d.ticket.Owners = "", "", "", d.ticket.GetOwners()[1:]
	text := strings.Join(strings.Fields(string(p.ticketText(d))), " ")
	require.Contains(t, text, "Owner of 33.3333 % M-0007 Sedge Hollow Apiary")
	require.NotContains(t, text, "Delivered by", "who drove is not known, so it was not the member either")
	require.NotContains(t, text, "Member ")
}

func TestTicketText_FitsANarrowPrinter(t *testing.T) {
	t.Parallel()
	d := testDelivery(3)
	d.ticket.MemberDisplayName = "Überlange Genossenschaft der Imkerinnen und Imker am Fallow Creek " + strings.Repeat("ä", 50)
	d.ticket.Barrels[0].Warnings = []string{"net 643.5 lb − usual is 560.0 to 620.0 lb\x1b@"}
	text := string(testPress(t, prefix).ticketText(d))
	for line := range strings.Lines(text) {
		require.LessOrEqual(t, utf8.RuneCountInString(strings.TrimSuffix(line, "\n")), 42, line)
	}
	require.NotContains(t, text, "\x1b", "a name must not command the printer")
	joined := strings.Join(strings.Fields(text), " ")
	for _, wanted := range []string{"FC-2026-000731", "gross 686.0 lb", "tare, stencilled 42.5 lb", "NET 643.5 lb", "scale 1 at 07:08 sample T3FN4HQX6", "3 BARRELS NET 1,930.5 lb", "Weights are subject to grade."} {
		require.Contains(t, joined, wanted)
	}
}

func TestTicket_IsTheSameWheneverItIsPrinted(t *testing.T) {
	t.Parallel()
	p := testPress(t, prefix)
	first, err := p.ticketPDF(testDelivery(5))
	require.NoError(t, err)
	again, err := p.ticketPDF(testDelivery(5))
	require.NoError(t, err)
	require.True(t, bytes.Equal(first, again))
	require.Contains(t, run(t, "pdfinfo", "-isodates", saved(t, first)), "2026-09-14T14:05:00Z", "its date is that of closing")

	later := testScales()
	later[0].LastCheck.CheckTime, later[0].LastCheck.CheckDate = at(24*time.Hour), "2026-09-15"
	require.Empty(t, known(testTicket(2), later), "a later check says nothing about these weights")
	sameDay := testScales()
	sameDay[0].LastCheck.CheckTime = at(3 * time.Hour)
	require.Empty(t, known(testTicket(2), sameDay))
	require.Len(t, known(testTicket(2), testScales()), 1)
	require.Empty(t, known(testTicket(0), testScales()), "a scale nothing stood on")
}

func TestTicket_PromisesNoDateNobodySet(t *testing.T) {
	t.Parallel()
	p := testPress(t, prefix)
	p.DisputeDays = 0
	require.Contains(t, p.dispute(testTicket(1)), "to the office, with the ticket")
}
