package web

import (
	"strconv"
	"strings"

	"github.com/google/uuid"

	"barrelhead.example/gateway/internal/rest"
	"barrelhead.example/gateway/internal/session"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

// varieties are offered as buttons; another source can be typed.
var varieties = []string{"clover", "basswood", "buckwheat", "goldenrod", "knapweed", "wildflower"}

// typedByHand is why the weight was not taken over the cable.
const typedByHand = "read from the display"

// weigh puts one barrel after the other on a ticket.
func (s *site) weigh(v *visit) (view, error) {
	f := v.form()
	if v.posted {
		barrel, err := s.sendWeighing(v, f)
		if err == nil {
			return view{goTo: "/barrels/" + idOf(barrel.GetName()) + "/sample"}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	t, err := s.readTicket(v)
	if err != nil {
		return view{}, err
	}
	scales, err := s.scaleViews(v)
	if err != nil {
		return view{}, err
	}
	s.offerLast(f, t, scales)
	shown, err := s.shownWeight(v, f, t)
	if err != nil {
		return view{}, err
	}
	return view{page: "weigh", title: "Weigh · " + t.GetNumber(), data: map[string]any{
		"Form": f, "Ticket": s.ticketData(v, t), "Scales": scaleOptions(scales, f.Value("scale")), "Varieties": varietyOptions(f), "Unit": words(s.Cooperative.Unit), "UnitCode": s.Cooperative.Unit,
		"Checked": len(scales) == 0 || anyToday(scales), "Shown": shown, "Typed": shown == nil, "MayType": shown != nil, "Scale": f.Value("scale"),
		"TareKinds": tareKinds, "Containers": containerOptions,
	}}, nil
}

// tareKinds in the words of the dock.
var tareKinds = []option{
	{Value: "STENCILLED", Label: "on the drum"},
	{Value: "WEIGHED_EMPTY", Label: "weighed empty"},
	{Value: "CLASS", Label: "class table"},
	{Value: "DECLARED", Label: "member said"},
}

// captured reports whether the form carries a weight the gateway took from the scale for this very request.
func (s *site) captured(v *visit, f *form) bool {
	return f.Value("captured") != "" && session.Sealed(v.who.Token, f.Value("seal"), f.RequestID, f.Value("scale"), f.Value("captured"), f.Value("indication"))
}

// capture takes the weight as it stands and seals it into the form: should the service ask why it is unusual, or its
// answer be lost, the same weight is sent again.
func (s *site) capture(v *visit, f *form) error {
	shown, err := s.indicators.CaptureIndication(v.ctx, &intakev1.CaptureIndicationRequest{RequestId: uuid.NewString(), Scale: f.Value("scale")})
	weight, name := shown.GetWeight().GetValue(), shown.GetName()
	if err != nil {
		// What was taken from this barrel before, for a page that never came back, is still good.
		refusal, _ := rest.Explain(v.Context(), err)
		if refusal.Metadata["state"] != "NOT_MOVED" {
			return err
		}
		weight, name = refusal.Metadata["weight"], refusal.Metadata["indication"]
	}
	f.values["captured"], f.values["indication"] = weight, name
	f.values["seal"] = session.Seal(v.who.Token, f.RequestID, f.Value("scale"), weight, name)
	return nil
}

// sendCaptured lets go of a captured weight that cannot serve this barrel, so that the next try takes it anew.
func (s *site) sendCaptured(v *visit, f *form, req *intakev1.WeighBarrelRequest) (*intakev1.Barrel, error) {
	req.Indication = f.Value("indication")
	barrel, err := s.intake.WeighBarrel(v.ctx, req)
	if spent(v, err) {
		f.values["captured"] = ""
	}
	return barrel, err
}

// spent reports that a captured weight was refused for itself and not for what was typed beside it.
func spent(v *visit, err error) bool {
	if err == nil {
		return false
	}
	refusal, _ := rest.Explain(v.Context(), err)
	return refusal.Metadata["field"] == "indication" || refusal.Metadata["state"] == "USED"
}

// barrelOf is what a form says of a barrel, but for its weight.
func (s *site) barrelOf(f *form, ticket string) *intakev1.WeighBarrelRequest {
	req := &intakev1.WeighBarrelRequest{
		RequestId: f.RequestID, Ticket: ticket, DrumTag: strings.ToUpper(f.Value("drum_tag")), Variety: strings.ToLower(f.Value("variety")),
		Tare:     s.typedMass(f.Value("tare")),
		TareKind: intakev1.TareKind(intakev1.TareKind_value["TARE_KIND_"+f.Value("tare_kind")]),
		Scale:    f.Value("scale"), Reason: f.Value("reason"), Part: f.Value("part") != "",
		Container: intakev1.Container(intakev1.Container_value["CONTAINER_"+f.Value("container")]),
	}
	if f.Value("other_variety") != "" {
		req.Variety = strings.ToLower(f.Value("other_variety"))
	}
	return req
}

func (s *site) typedGross(f *form, req *intakev1.WeighBarrelRequest) {
	req.Gross, req.RawIndication, req.Manual = s.typedMass(f.Value("gross")), f.Value("gross"), true
}

// sendWeighing sends the weight from the scale, or one that was typed.
func (s *site) sendWeighing(v *visit, f *form) (*intakev1.Barrel, error) {
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
func (s *site) sendTyped(v *visit, req *intakev1.WeighBarrelRequest) (*intakev1.Barrel, error) {
	barrel, err := s.intake.WeighBarrel(v.ctx, req)
	if req.GetReason() != "" {
		return barrel, err
	}
	refusal, _ := rest.Explain(v.Context(), err)
	if refusal.Reason == "REASON_REQUIRED" && refusal.Metadata["field"] == "reason" {
		req.Reason = typedByHand
		barrel, err = s.intake.WeighBarrel(v.ctx, req)
	}
	return barrel, err
}

// typedMass takes a comma for a point, unless thousands are set apart by it: "12,000" is not twelve. Whether it is a number is for
// the service to say.
func (s *site) typedMass(typed string) *typev1.Mass {
	if thousands.MatchString(typed) {
		typed = strings.ReplaceAll(typed, ",", "")
	}
	return &typev1.Mass{Value: strings.ReplaceAll(typed, ",", "."), Unit: s.Cooperative.Unit}
}

// offerLast takes over from the barrel before what seldom changes.
func (s *site) offerLast(f *form, t *intakev1.Ticket, scales []scaleView) {
	f.set("tare_kind", "STENCILLED")
	for _, scale := range scales {
		if scale.Today {
			f.set("scale", scale.GetName())
		}
	}
	if n := len(t.GetBarrels()); n > 0 {
		before := t.GetBarrels()[n-1]
		f.set("variety", before.GetVariety())
		f.set("scale", before.GetScale())
	}
	if len(scales) > 0 {
		f.set("scale", scales[0].GetName())
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

func scaleOptions(scales []scaleView, chosen string) []option {
	var options []option
	for _, scale := range scales {
		label := "Scale " + idOf(scale.GetName())
		if !scale.Today {
			label += ", not checked today"
		}
		options = append(options, option{Value: scale.GetName(), Label: label, Chosen: scale.GetName() == chosen})
	}
	return options
}

func varietyOptions(f *form) []option {
	var options []option
	known := f.Value("variety") == ""
	for _, name := range varieties {
		options = append(options, option{Value: name, Label: name})
		known = known || name == f.Value("variety")
	}
	if !known {
		options = append(options, option{Value: f.Value("variety"), Label: f.Value("variety")})
	}
	return options
}

// sample says what was just weighed, then shows the code for the jar as large as the screen allows.
func (s *site) sample(v *visit) (view, error) {
	f := v.form()
	name := "barrels/" + v.PathValue("id")
	if v.posted {
		_, err := s.intake.DrawSample(v.ctx, &intakev1.DrawSampleRequest{RequestId: f.RequestID, Barrel: name, Seals: typedSeals(f)})
		if err == nil {
			return view{goTo: v.URL.Path}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	barrel, err := s.intake.GetBarrel(v.ctx, &intakev1.GetBarrelRequest{Name: name})
	if err != nil {
		return view{}, err
	}
	return view{page: "sample", title: "Sample of barrel " + barrel.GetDrumTag(), data: map[string]any{"Form": f, "Barrel": barrel}}, nil
}

// typedSeals are the seals put on the jars at the dock; a jar without one is sealed later.
func typedSeals(f *form) []*intakev1.PortionSeal {
	var seals []*intakev1.PortionSeal
	for _, jar := range portionOptions {
		if seal := f.Value("seal_" + strings.ToLower(jar.Value)); seal != "" {
			seals = append(seals, &intakev1.PortionSeal{Portion: intakev1.Portion(intakev1.Portion_value["PORTION_"+jar.Value]), Seal: seal})
		}
	}
	return seals
}

// closeTicket ends a delivery with the count agreed with the driver.
func (s *site) closeTicket(v *visit) (view, error) {
	return s.ticketForm(v, "close", "Close the ticket", func(f *form) (*intakev1.Ticket, error) {
		count, err := strconv.ParseInt(f.Value("barrel_count"), 10, 32)
		if err != nil {
			count = -1 // refused by its range
		}
		return s.intake.CloseTicket(v.ctx, &intakev1.CloseTicketRequest{
			RequestId: f.RequestID, Name: "tickets/" + v.PathValue("id"), BarrelCount: int32(count), Etag: f.Value("etag"), Driver: f.Value("driver"),
		})
	})
}

func (s *site) cancelTicket(v *visit) (view, error) {
	return s.ticketForm(v, "cancel", "Give the ticket up", func(f *form) (*intakev1.Ticket, error) {
		return s.intake.CancelTicket(v.ctx, &intakev1.CancelTicketRequest{
			RequestId: f.RequestID, Name: "tickets/" + v.PathValue("id"), Reason: f.Value("reason"),
		})
	})
}

func (s *site) requestVoid(v *visit) (view, error) {
	return s.ticketForm(v, "void", "Ask to void the ticket", func(f *form) (*intakev1.Ticket, error) {
		owners, err := typedOwners(f, "reissue_owners")
		if err != nil {
			return nil, err
		}
		return s.intake.RequestTicketVoid(v.ctx, &intakev1.RequestTicketVoidRequest{
			RequestId: f.RequestID, Name: "tickets/" + v.PathValue("id"), Reason: f.Value("reason"), ReissueMember: memberName(f.Value("reissue_member")), ReissueOwners: owners,
		})
	})
}

func (s *site) approveVoid(v *visit) (view, error) {
	return s.ticketForm(v, "approve", "Approve the void", func(f *form) (*intakev1.Ticket, error) {
		return s.intake.ApproveTicketVoid(v.ctx, &intakev1.ApproveTicketVoidRequest{RequestId: f.RequestID, Name: "tickets/" + v.PathValue("id")})
	})
}

// ticketForm is a task on one ticket; done, it shows the ticket that stands.
func (s *site) ticketForm(v *visit, page, title string, do func(*form) (*intakev1.Ticket, error)) (view, error) {
	f := v.form()
	if v.posted {
		done, err := do(f)
		if err == nil {
			return view{goTo: "/tickets/" + idOf(done.GetName())}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	t, err := s.readTicket(v)
	if err != nil {
		return view{}, err
	}
	return view{page: page, title: title + " " + t.GetNumber(), data: map[string]any{"Form": f, "Ticket": s.ticketData(v, t)}}, nil
}
