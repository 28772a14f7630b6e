package dock

import (
	"strconv"
	"strings"

	"github.com/google/uuid"

	"barrelhead.example/gateway/internal/rest"
	"barrelhead.example/gateway/internal/session"
	"barrelhead.example/gateway/internal/web/site"
	"barrelhead.example/gateway/internal/wording"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

// varieties are offered as buttons; another source can be typed.
var varieties = []string{"clover", "basswood", "buckwheat", "goldenrod", "knapweed", "wildflower"}

// typedByHand is why the weight was not taken over the cable.
const typedByHand = "read from the display"

// weigh puts one barrel after the other on a ticket.
func (s room) weigh(v *site.Visit) (site.View, error) {
	f := v.Form()
	if v.Posted {
		barrel, err := s.sendWeighing(v, f)
		if err == nil {
			return site.View{GoTo: "/barrels/" + site.IDOf(barrel.GetName()) + "/sample"}, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	t, err := s.readTicket(v)
	if err != nil {
		return site.View{}, err
	}
	scales, err := s.scaleViews(v)
	if err != nil {
		return site.View{}, err
	}
	s.offerLast(f, t, scales)
	shown, err := s.shownWeight(v, f, t)
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "weigh", Title: "Weigh · " + t.GetNumber(), Data: map[string]any{
		"Form": f, "Ticket": s.ticketData(v, t), "Scales": scaleOptions(scales, f.Value("scale")), "Varieties": varietyOptions(f), "Unit": wording.Words(s.Cooperative.Unit), "UnitCode": s.Cooperative.Unit,
		"Checked": len(scales) == 0 || anyToday(scales), "Shown": shown, "Typed": shown == nil, "MayType": shown != nil, "Scale": f.Value("scale"),
		"TareKinds": tareKinds, "Containers": containerOptions,
	}}, nil
}

// tareKinds in the words of the dock.
var tareKinds = []site.Option{
	{Value: "STENCILLED", Label: "on the drum"},
	{Value: "WEIGHED_EMPTY", Label: "weighed empty"},
	{Value: "CLASS", Label: "class table"},
	{Value: "DECLARED", Label: "member said"},
}

// captured reports whether the form carries a weight the gateway took from the scale for this very request.
func (s room) captured(v *site.Visit, f *site.Form) bool {
	return f.Value("captured") != "" && session.Sealed(v.Who.Token, f.Value("seal"), f.RequestID, f.Value("scale"), f.Value("captured"), f.Value("indication"))
}

// capture takes the weight as it stands and seals it into the form: should the service ask why it is unusual, or its
// answer be lost, the same weight is sent again.
func (s room) capture(v *site.Visit, f *site.Form) error {
	shown, err := s.Indicators.CaptureIndication(v.Ctx, &intakev1.CaptureIndicationRequest{RequestId: uuid.NewString(), Scale: f.Value("scale")})
	weight, name := shown.GetWeight().GetValue(), shown.GetName()
	if err != nil {
		// What was taken from this barrel before, for a page that never came back, is still good.
		refusal, _ := rest.Explain(v.Context(), err)
		if refusal.Metadata["state"] != "NOT_MOVED" {
			return err
		}
		weight, name = refusal.Metadata["weight"], refusal.Metadata["indication"]
	}
	f.Put("captured", weight)
	f.Put("indication", name)
	f.Put("seal", session.Seal(v.Who.Token, f.RequestID, f.Value("scale"), weight, name))
	return nil
}

// sendCaptured lets go of a captured weight that cannot serve this barrel, so that the next try takes it anew.
func (s room) sendCaptured(v *site.Visit, f *site.Form, req *intakev1.WeighBarrelRequest) (*intakev1.Barrel, error) {
	req.Indication = f.Value("indication")
	barrel, err := s.Intake.WeighBarrel(v.Ctx, req)
	if spent(v, err) {
		f.Put("captured", "")
	}
	return barrel, err
}

// spent reports that a captured weight was refused for itself and not for what was typed beside it.
func spent(v *site.Visit, err error) bool {
	if err == nil {
		return false
	}
	refusal, _ := rest.Explain(v.Context(), err)
	return refusal.Metadata["field"] == "indication" || refusal.Metadata["state"] == "USED"
}

// barrelOf is what a form says of a barrel, but for its weight.
func (s room) barrelOf(f *site.Form, ticket string) *intakev1.WeighBarrelRequest {
	req := &intakev1.WeighBarrelRequest{
		RequestId: f.RequestID, Ticket: ticket, DrumTag: strings.ToUpper(f.Value("drum_tag")), Variety: strings.ToLower(f.Value("variety")),
		Tare:     s.TypedMass(f.Value("tare")),
		TareKind: intakev1.TareKind(intakev1.TareKind_value["TARE_KIND_"+f.Value("tare_kind")]),
		Scale:    f.Value("scale"), Reason: f.Value("reason"), Part: f.Value("part") != "",
		Container: intakev1.Container(intakev1.Container_value["CONTAINER_"+f.Value("container")]),
	}
	if f.Value("other_variety") != "" {
		req.Variety = strings.ToLower(f.Value("other_variety"))
	}
	return req
}

func (s room) typedGross(f *site.Form, req *intakev1.WeighBarrelRequest) {
	req.Gross, req.RawIndication, req.Manual = s.TypedMass(f.Value("gross")), f.Value("gross"), true
}

// sendWeighing sends the weight from the scale, or one that was typed.
func (s room) sendWeighing(v *site.Visit, f *site.Form) (*intakev1.Barrel, error) {
	req := s.barrelOf(f, "tickets/"+v.PathValue("id"))
	if f.Value("from") == "scale" {
		if !s.captured(v, f) {
			if err := s.capture(v, f); err != nil {
				return nil, err
			}
		}
		return s.sendCaptured(v, f, req)
	}
	s.typedGross(f, req)
	return s.sendTyped(v, req)
}

// sendTyped first asks without a reason, so that the service can object to an unusual weight. That the weight was typed
// is said by the page itself; an unusual weight only the clerk can explain.
func (s room) sendTyped(v *site.Visit, req *intakev1.WeighBarrelRequest) (*intakev1.Barrel, error) {
	barrel, err := s.Intake.WeighBarrel(v.Ctx, req)
	if req.GetReason() != "" {
		return barrel, err
	}
	refusal, _ := rest.Explain(v.Context(), err)
	if refusal.Reason == "REASON_REQUIRED" && refusal.Metadata["field"] == "reason" {
		req.Reason = typedByHand
		barrel, err = s.Intake.WeighBarrel(v.Ctx, req)
	}
	return barrel, err
}

// offerLast takes over from the barrel before what seldom changes.
func (s room) offerLast(f *site.Form, t *intakev1.Ticket, scales []scaleView) {
	f.Set("tare_kind", "STENCILLED")
	for _, scale := range scales {
		if scale.Today {
			f.Set("scale", scale.GetName())
		}
	}
	if n := len(t.GetBarrels()); n > 0 {
		before := t.GetBarrels()[n-1]
		f.Set("variety", before.GetVariety())
		f.Set("scale", before.GetScale())
	}
	if len(scales) > 0 {
		f.Set("scale", scales[0].GetName())
	}
}

func anyToday(scales []scaleView) bool {
	for _, scale := range scales {
		if scale.Today {
			return true
		}
	}
	return false
}

func scaleOptions(scales []scaleView, chosen string) []site.Option {
	var options []site.Option
	for _, scale := range scales {
		label := "Scale " + site.IDOf(scale.GetName())
		if !scale.Today {
			label += ", not checked today"
		}
		options = append(options, site.Option{Value: scale.GetName(), Label: label, Chosen: scale.GetName() == chosen})
	}
	return options
}

func varietyOptions(f *site.Form) []site.Option {
	var options []site.Option
	known := f.Value("variety") == ""
	for _, name := range varieties {
		options = append(options, site.Option{Value: name, Label: name})
		known = known || name == f.Value("variety")
	}
	if !known {
		options = append(options, site.Option{Value: f.Value("variety"), Label: f.Value("variety")})
	}
	return options
}

// sample says what was just weighed, then shows the code for the jar as large as the screen allows.
func (s room) sample(v *site.Visit) (site.View, error) {
	f := v.Form()
	name := "barrels/" + v.PathValue("id")
	if v.Posted {
		_, err := s.Intake.DrawSample(v.Ctx, &intakev1.DrawSampleRequest{RequestId: f.RequestID, Barrel: name, Seals: typedSeals(f)})
		if err == nil {
			return site.View{GoTo: v.URL.Path}, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	barrel, err := s.Intake.GetBarrel(v.Ctx, &intakev1.GetBarrelRequest{Name: name})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "sample", Title: "Sample of barrel " + barrel.GetDrumTag(), Data: map[string]any{"Form": f, "Barrel": barrel}}, nil
}

// typedSeals are the seals put on the jars at the dock; a jar without one is sealed later.
func typedSeals(f *site.Form) []*intakev1.PortionSeal {
	var seals []*intakev1.PortionSeal
	for _, jar := range portionOptions {
		if seal := f.Value("seal_" + strings.ToLower(jar.Value)); seal != "" {
			seals = append(seals, &intakev1.PortionSeal{Portion: intakev1.Portion(intakev1.Portion_value["PORTION_"+jar.Value]), Seal: seal})
		}
	}
	return seals
}

// closeTicket ends a delivery with the count agreed with the driver.
func (s room) closeTicket(v *site.Visit) (site.View, error) {
	return s.ticketForm(v, "close", "Close the ticket", func(f *site.Form) (*intakev1.Ticket, error) {
		count, err := strconv.ParseInt(f.Value("barrel_count"), 10, 32)
		if err != nil {
			count = -1 // refused by its range
		}
		return s.Intake.CloseTicket(v.Ctx, &intakev1.CloseTicketRequest{
			RequestId: f.RequestID, Name: "tickets/" + v.PathValue("id"), BarrelCount: int32(count), Etag: f.Value("etag"), Driver: f.Value("driver"),
		})
	})
}

func (s room) cancelTicket(v *site.Visit) (site.View, error) {
	return s.ticketForm(v, "cancel", "Give the ticket up", func(f *site.Form) (*intakev1.Ticket, error) {
		return s.Intake.CancelTicket(v.Ctx, &intakev1.CancelTicketRequest{
			RequestId: f.RequestID, Name: "tickets/" + v.PathValue("id"), Reason: f.Value("reason"),
		})
	})
}

func (s room) requestVoid(v *site.Visit) (site.View, error) {
	return s.ticketForm(v, "void", "Ask to void the ticket", func(f *site.Form) (*intakev1.Ticket, error) {
		owners, err := typedOwners(f, "reissue_owners")
		if err != nil {
			return nil, err
		}
		return s.Intake.RequestTicketVoid(v.Ctx, &intakev1.RequestTicketVoidRequest{
			RequestId: f.RequestID, Name: "tickets/" + v.PathValue("id"), Reason: f.Value("reason"), ReissueMember: site.MemberName(f.Value("reissue_member")), ReissueOwners: owners,
		})
	})
}

func (s room) approveVoid(v *site.Visit) (site.View, error) {
	return s.ticketForm(v, "approve", "Approve the void", func(f *site.Form) (*intakev1.Ticket, error) {
		return s.Intake.ApproveTicketVoid(v.Ctx, &intakev1.ApproveTicketVoidRequest{RequestId: f.RequestID, Name: "tickets/" + v.PathValue("id")})
	})
}

// ticketForm is a task on one ticket; done, it shows the ticket that stands.
func (s room) ticketForm(v *site.Visit, page, title string, do func(*site.Form) (*intakev1.Ticket, error)) (site.View, error) {
	f := v.Form()
	if v.Posted {
		done, err := do(f)
		if err == nil {
			return site.View{GoTo: "/tickets/" + site.IDOf(done.GetName())}, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	t, err := s.readTicket(v)
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: page, Title: title + " " + t.GetNumber(), Data: map[string]any{"Form": f, "Ticket": s.ticketData(v, t)}}, nil
}
