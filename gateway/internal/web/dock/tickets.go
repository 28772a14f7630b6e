package dock

import (
	"strconv"
	"strings"

	"google.golang.org/grpc/codes"

	"barrelhead.example/gateway/internal/web/site"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/clock"
)

// scaleView is a scale and whether it may be used today.
type scaleView struct {
	*intakev1.Scale
	Today bool
}

func (s room) scaleViews(v *site.Visit) ([]scaleView, error) {
	found, err := s.Intake.ListScales(v.Ctx, &intakev1.ListScalesRequest{})
	if err != nil {
		return nil, err
	}
	today := clock.Today(s.Clock, s.Zone)
	var views []scaleView
	for _, scale := range found.GetScales() {
		check := scale.GetLastCheck()
		views = append(views, scaleView{Scale: scale, Today: check.GetPassed() && check.GetCheckDate() == today})
	}
	return views, nil
}

// dock is where a shift begins: may we weigh, and what is open.
func (s room) dock(v *site.Visit) (site.View, error) {
	scales, err := s.scaleViews(v)
	if err != nil {
		return site.View{}, err
	}
	open, err := s.Intake.ListTickets(v.Ctx, &intakev1.ListTicketsRequest{State: intakev1.TicketState_TICKET_STATE_OPEN, PageSize: 50})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "dock", Title: "Dock", Data: map[string]any{"Scales": scales, "Open": open.GetTickets()}}, nil
}

// newTicket opens a delivery.
func (s room) newTicket(v *site.Visit) (site.View, error) {
	f := v.Form()
	year := s.Clock.Now().In(s.Zone).Year()
	f.Set("crop_year", strconv.Itoa(year))
	if v.Posted {
		ticket, err := s.sendTicket(v, f)
		if err == nil {
			return site.View{GoTo: "/tickets/" + site.IDOf(ticket.GetName()) + "/weigh"}, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	found, err := s.Intake.ListMembers(v.Ctx, &intakev1.ListMembersRequest{PageSize: 1000})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "newticket", Title: "New delivery", Data: map[string]any{"Form": f, "Members": found.GetMembers()}}, nil
}

func (s room) sendTicket(v *site.Visit, f *site.Form) (*intakev1.Ticket, error) {
	owners, err := typedOwners(f, "owners")
	if err != nil {
		return nil, err
	}
	claims, err := typedClaims(f)
	if err != nil {
		return nil, err
	}
	cropYear, _ := strconv.ParseInt(f.Value("crop_year"), 10, 32) // what is no number is refused by its range
	return s.Intake.OpenTicket(v.Ctx, &intakev1.OpenTicketRequest{
		RequestId: f.RequestID, Member: site.MemberName(f.Value("member")), CropYear: int32(cropYear), Hauler: f.Value("hauler"), HarvestDeclared: f.Value("harvest_declared") != "",
		Vehicle: f.Value("vehicle"), YardRegion: f.Value("yard_region"), Remarks: f.Value("remarks"), Owners: owners, Claims: claims,
	})
}

// typedClaims reads one claim a line, with the number of its certificate if it has one.
func typedClaims(f *site.Form) ([]*intakev1.HoneyClaim, error) {
	var claims []*intakev1.HoneyClaim
	for n, cells := range site.LinesOf(f.Value("claims")) {
		if len(cells) > 2 {
			f.BadLine("claims", n, "claim and certificate")
			return nil, apierr.Field("claims", strings.TrimSuffix(f.Problem, "."))
		}
		cells = append(cells, "")
		claims = append(claims, &intakev1.HoneyClaim{Claim: cells[0], Certificate: cells[1]})
	}
	return claims, nil
}

func (s room) readTicket(v *site.Visit) (*intakev1.Ticket, error) {
	return s.Intake.GetTicket(v.Ctx, &intakev1.GetTicketRequest{Name: "tickets/" + v.PathValue("id")})
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

func (s room) ticketData(v *site.Visit, t *intakev1.Ticket) ticketData {
	d := ticketData{Ticket: t, Open: t.GetState() == intakev1.TicketState_TICKET_STATE_OPEN, Own: v.OnlyMember(), Back: "/tickets", Replaces: t.GetSupersedes(), Replaced: t.GetSupersededBy()}
	for _, b := range t.GetBarrels() {
		if b.GetSample() == "" {
			d.Unsampled++
		}
		if b.GetPaperNumber() != "" && b.GetPaperConfirmer() == "" {
			d.Unconfirmed++
		}
	}
	d.MayReject, d.MayExit, d.MayConfirm = d.Open && v.MayCall(rejectBarrel), v.MayCall(recordExit), v.MayCall(confirmPaper)
	closed := t.GetState() == intakev1.TicketState_TICKET_STATE_CLOSED
	d.MayWeigh, d.MaySample = d.Open && v.MayCall(weighBarrel), d.Open && v.MayCall(drawSample)
	d.MayVoid = closed && t.GetVoid() == nil && v.MayCall(requestVoid)
	declared := t.GetHarvestDeclared() || t.GetLateDeclareTime() != nil
	d.MayDeclare, d.MayCustody = (d.Open || closed) && !declared && v.MayCall(declareHarvest), v.MayCall(getCustody)
	d.MayApprove = closed && t.GetVoid() != nil && t.GetVoid().GetApprover() == "" && v.MayCall(approveVoid)
	return d
}

func (s room) ticket(v *site.Visit) (site.View, error) {
	t, err := s.readTicket(v)
	if err != nil {
		return site.View{}, err
	}
	d := s.ticketData(v, t)
	if d.Rejects, err = s.rejects(v, t.GetName()); err != nil {
		return site.View{}, err
	}
	if d.Own {
		for _, beside := range []*string{&d.Replaces, &d.Replaced} {
			if err := s.keepOwn(v, beside); err != nil {
				return site.View{}, err
			}
		}
	}
	return site.View{Page: "ticket", Title: "Ticket " + t.GetNumber(), Data: d}, nil
}

// keepOwn empties the name of a ticket the visitor may not see: a link to a page that is not there helps nobody.
func (s room) keepOwn(v *site.Visit, ticket *string) error {
	if *ticket == "" {
		return nil
	}
	_, err := s.Intake.GetTicket(v.Ctx, &intakev1.GetTicketRequest{Name: *ticket})
	if apierr.Parse(err).Code != codes.NotFound {
		return err
	}
	*ticket = ""
	return nil
}

// tickets lists deliveries, a member's own or everybody's.
func (s room) tickets(v *site.Visit) (site.View, error) {
	query := v.URL.Query()
	state := intakev1.TicketState(intakev1.TicketState_value["TICKET_STATE_"+strings.ToUpper(query.Get("state"))])
	req := &intakev1.ListTicketsRequest{PageSize: 30, PageToken: query.Get("page"), State: state, Member: site.MemberName(query.Get("member"))}
	if v.OnlyMember() {
		req.Member = v.Who.Member
	}
	found, err := s.Intake.ListTickets(v.Ctx, req)
	if err != nil {
		return site.View{}, err
	}
	title := "Receiving tickets"
	if v.OnlyMember() {
		title = "Your deliveries"
	}
	return site.View{Page: "tickets", Title: title, Data: map[string]any{
		"Own": v.OnlyMember(), "Tickets": found.GetTickets(), "State": query.Get("state"), "Member": query.Get("member"),
		"Next": site.NextPage(v, found.GetNextPageToken()),
	}}, nil
}
