package web

import (
	"strconv"
	"strings"

	"google.golang.org/grpc/codes"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/clock"
)

// scaleView is a scale and whether it may be used today.
type scaleView struct {
	*intakev1.Scale
	Today bool
}

func (s *site) scaleViews(v *visit) ([]scaleView, error) {
	found, err := s.intake.ListScales(v.ctx, &intakev1.ListScalesRequest{})
	if err != nil {
		return nil, err
	}
	today := clock.Today(s.Clock, s.zone)
	var views []scaleView
	for _, scale := range found.GetScales() {
		check := scale.GetLastCheck()
		views = append(views, scaleView{Scale: scale, Today: check.GetPassed() && check.GetCheckDate() == today})
	}
	return views, nil
}

// dock is where a shift begins: may we weigh, and what is open.
func (s *site) dock(v *visit) (view, error) {
	scales, err := s.scaleViews(v)
	if err != nil {
		return view{}, err
	}
	open, err := s.intake.ListTickets(v.ctx, &intakev1.ListTicketsRequest{State: intakev1.TicketState_TICKET_STATE_OPEN, PageSize: 50})
	if err != nil {
		return view{}, err
	}
	return view{page: "dock", title: "Dock", data: map[string]any{"Scales": scales, "Open": open.GetTickets()}}, nil
}

// newTicket opens a delivery.
func (s *site) newTicket(v *visit) (view, error) {
	f := v.form()
	year := s.Clock.Now().In(s.zone).Year()
	f.set("crop_year", strconv.Itoa(year))
	if v.posted {
		ticket, err := s.sendTicket(v, f)
		if err == nil {
			return view{goTo: "/tickets/" + idOf(ticket.GetName()) + "/weigh"}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	found, err := s.intake.ListMembers(v.ctx, &intakev1.ListMembersRequest{PageSize: 1000})
	if err != nil {
		return view{}, err
	}
	return view{page: "newticket", title: "New delivery", data: map[string]any{"Form": f, "Members": found.GetMembers()}}, nil
}

func (s *site) sendTicket(v *visit, f *form) (*intakev1.Ticket, error) {
	owners, err := typedOwners(f, "owners")
	if err != nil {
		return nil, err
	}
	claims, err := typedClaims(f)
	if err != nil {
		return nil, err
	}
	cropYear, _ := strconv.ParseInt(f.Value("crop_year"), 10, 32) // what is no number is refused by its range
	return s.intake.OpenTicket(v.ctx, &intakev1.OpenTicketRequest{
		RequestId: f.RequestID, Member: memberName(f.Value("member")), CropYear: int32(cropYear), Hauler: f.Value("hauler"), HarvestDeclared: f.Value("harvest_declared") != "",
		Vehicle: f.Value("vehicle"), YardRegion: f.Value("yard_region"), Remarks: f.Value("remarks"), Owners: owners, Claims: claims,
	})
}

// typedClaims reads one claim a line, with the number of its certificate if it has one.
func typedClaims(f *form) ([]*intakev1.HoneyClaim, error) {
	var claims []*intakev1.HoneyClaim
	for n, cells := range linesOf(f.Value("claims")) {
		if len(cells) > 2 {
			f.badLine("claims", n, "claim and certificate")
			return nil, apierr.Field("claims", strings.TrimSuffix(f.Problem, "."))
		}
		cells = append(cells, "")
		claims = append(claims, &intakev1.HoneyClaim{Claim: cells[0], Certificate: cells[1]})
	}
	return claims, nil
}

// memberName reads what people type for a member: "M-0012", "m-0012", "12".
func memberName(typed string) string {
	typed = strings.ToUpper(strings.TrimSpace(typed))
	// A choice from the list comes as "M-0012 Juniper Yard".
	typed, _, _ = strings.Cut(typed, " ")
	if _, err := strconv.ParseUint(typed, 10, 32); err == nil {
		typed = "M-" + strings.Repeat("0", max(4-len(typed), 0)) + typed
	}
	if typed == "" {
		return ""
	}
	return "members/" + typed
}

func (s *site) readTicket(v *visit) (*intakev1.Ticket, error) {
	return s.intake.GetTicket(v.ctx, &intakev1.GetTicketRequest{Name: "tickets/" + v.PathValue("id")})
}

type ticketData struct {
	*intakev1.Ticket
	Unsampled, Unconfirmed                   int
	Open, Own                                bool
	MayWeigh, MaySample, MayVoid, MayApprove bool
	MayReject, MayExit, MayConfirm           bool
	MayDeclare, MayCustody                   bool
	// Rejects were brought with the ticket and not taken in.
	Rejects []reject
	Back    string
	// Replaces and Replaced are the tickets before and after this one, as far as the visitor may see them.
	Replaces, Replaced string
}

func (s *site) ticketData(v *visit, t *intakev1.Ticket) ticketData {
	d := ticketData{Ticket: t, Open: t.GetState() == intakev1.TicketState_TICKET_STATE_OPEN, Own: v.onlyMember(), Back: "/tickets", Replaces: t.GetSupersedes(), Replaced: t.GetSupersededBy()}
	for _, b := range t.GetBarrels() {
		if b.GetSample() == "" {
			d.Unsampled++
		}
		if b.GetPaperNumber() != "" && b.GetPaperConfirmer() == "" {
			d.Unconfirmed++
		}
	}
	d.MayReject, d.MayExit, d.MayConfirm = d.Open && v.mayCall(rejectBarrel), v.mayCall(recordExit), v.mayCall(confirmPaper)
	closed := t.GetState() == intakev1.TicketState_TICKET_STATE_CLOSED
	d.MayWeigh, d.MaySample = d.Open && v.mayCall(weighBarrel), d.Open && v.mayCall(drawSample)
	d.MayVoid = closed && t.GetVoid() == nil && v.mayCall(requestVoid)
	declared := t.GetHarvestDeclared() || t.GetLateDeclareTime() != nil
	d.MayDeclare, d.MayCustody = (d.Open || closed) && !declared && v.mayCall(declareHarvest), v.mayCall(getCustody)
	d.MayApprove = closed && t.GetVoid() != nil && t.GetVoid().GetApprover() == "" && v.mayCall(approveVoid)
	return d
}

func (s *site) ticket(v *visit) (view, error) {
	t, err := s.readTicket(v)
	if err != nil {
		return view{}, err
	}
	d := s.ticketData(v, t)
	if d.Rejects, err = s.rejects(v, t.GetName()); err != nil {
		return view{}, err
	}
	if d.Own {
		for _, beside := range []*string{&d.Replaces, &d.Replaced} {
			if err := s.keepOwn(v, beside); err != nil {
				return view{}, err
			}
		}
	}
	return view{page: "ticket", title: "Ticket " + t.GetNumber(), data: d}, nil
}

// keepOwn empties the name of a ticket the visitor may not see: a link to a page that is not there helps nobody.
func (s *site) keepOwn(v *visit, ticket *string) error {
	if *ticket == "" {
		return nil
	}
	_, err := s.intake.GetTicket(v.ctx, &intakev1.GetTicketRequest{Name: *ticket})
	if apierr.Parse(err).Code != codes.NotFound {
		return err
	}
	*ticket = ""
	return nil
}

// tickets lists deliveries, a member's own or everybody's.
func (s *site) tickets(v *visit) (view, error) {
	query := v.URL.Query()
	state := intakev1.TicketState(intakev1.TicketState_value["TICKET_STATE_"+strings.ToUpper(query.Get("state"))])
	req := &intakev1.ListTicketsRequest{PageSize: 30, PageToken: query.Get("page"), State: state, Member: memberName(query.Get("member"))}
	if v.onlyMember() {
		req.Member = v.who.Member
	}
	found, err := s.intake.ListTickets(v.ctx, req)
	if err != nil {
		return view{}, err
	}
	title := "Receiving tickets"
	if v.onlyMember() {
		title = "Your deliveries"
	}
	return view{page: "tickets", title: title, data: map[string]any{
		"Own": v.onlyMember(), "Tickets": found.GetTickets(), "State": query.Get("state"), "Member": query.Get("member"),
		"Next": nextPage(v, found.GetNextPageToken()),
	}}, nil
}

// nextPage is the address of the page after this one; empty at the end.
func nextPage(v *visit, token string) string {
	if token == "" {
		return ""
	}
	query := v.URL.Query()
	query.Set("page", token)
	return v.URL.Path + "?" + query.Encode()
}
