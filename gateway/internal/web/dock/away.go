package dock

import (
	"strconv"

	"barrelhead.example/gateway/internal/web/site"
	"barrelhead.example/gateway/internal/wording"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

// away is the page the device keeps for when the house does not answer: open deliveries, a form to weigh, and what waits to
// be sent. The list of members and tickets is as of the last visit; the services decide when the entries arrive.
func (s room) away(v *site.Visit) (site.View, error) {
	open, err := s.Intake.ListTickets(v.Ctx, &intakev1.ListTicketsRequest{State: intakev1.TicketState_TICKET_STATE_OPEN, PageSize: 50})
	if err != nil {
		return site.View{}, err
	}
	members, err := s.Intake.ListMembers(v.Ctx, &intakev1.ListMembersRequest{PageSize: 1000})
	if err != nil {
		return site.View{}, err
	}
	scales, err := s.scaleViews(v)
	if err != nil {
		return site.View{}, err
	}
	f := site.NewForm()
	f.Set("crop_year", strconv.Itoa(s.Clock.Now().In(s.Zone).Year()))
	s.offerLast(f, &intakev1.Ticket{}, scales)
	return site.View{Page: "away", Title: "This device", Data: map[string]any{
		"Form": f, "Open": open.GetTickets(), "Members": members.GetMembers(), "Scales": scaleOptions(scales, f.Value("scale")),
		"Varieties": varietyOptions(f), "TareKinds": tareKinds, "Containers": containerOptions, "Unit": wording.Words(s.Cooperative.Unit), "UnitCode": s.Cooperative.Unit,
	}}, nil
}
