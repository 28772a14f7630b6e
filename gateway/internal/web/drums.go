package web

import (
	"net/url"
	"strings"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

// The RPCs behind the pages of drums.
const (
	listDrums    = intakev1.IntakeService_ListDrums_FullMethodName
	getDrum      = intakev1.IntakeService_GetDrum_FullMethodName
	registerDrum = intakev1.IntakeService_RegisterDrum_FullMethodName
	releaseDrum  = intakev1.IntakeService_ReleaseDrum_FullMethodName
	retireDrum   = intakev1.IntakeService_RetireDrum_FullMethodName
)

var containerOptions = []option{
	{Value: "STEEL_CLOSED_HEAD", Label: "steel, with bung"},
	{Value: "STEEL_OPEN_HEAD", Label: "steel, with lid and ring"},
	{Value: "STEEL_LINED", Label: "steel, lined"},
	{Value: "PLASTIC", Label: "plastic drum"},
	{Value: "PAIL", Label: "pail"},
	{Value: "TOTE", Label: "tote"},
}

var ownerships = []option{
	{Value: "COOPERATIVE", Label: "the cooperative's"},
	{Value: "MEMBER", Label: "a member's"},
	{Value: "EXCHANGE", Label: "goes round"},
}

// drumCount is how the drums of one page stand.
type drumCount struct{ Full, Free, Retired int }

// drums lists them by tag, all or those of one owner, and takes a scanned tag to its drum.
func (s *site) drums(v *visit) (view, error) {
	query := v.URL.Query()
	if tag := strings.ToUpper(strings.TrimSpace(query.Get("tag"))); tag != "" {
		return view{goTo: "/drums/" + url.PathEscape(tag)}, nil
	}
	found, err := s.intake.ListDrums(v.ctx, &intakev1.ListDrumsRequest{PageSize: 100, PageToken: query.Get("page"), Owner: memberName(query.Get("owner"))})
	if err != nil {
		return view{}, err
	}
	var count drumCount
	for _, d := range found.GetDrums() {
		switch {
		case d.GetRetireTime() != nil:
			count.Retired++
		case d.GetOpenBarrel() != "":
			count.Full++
		default:
			count.Free++
		}
	}
	return view{page: "drums", title: "Drums", data: map[string]any{
		"Drums": found.GetDrums(), "Count": count, "Owner": query.Get("owner"), "MayRegister": v.mayCall(registerDrum), "Next": nextPage(v, found.GetNextPageToken()),
	}}, nil
}

func (s *site) readDrum(v *visit) (*intakev1.Drum, error) {
	return s.intake.GetDrum(v.ctx, &intakev1.GetDrumRequest{Name: "drums/" + strings.ToUpper(v.PathValue("tag"))})
}

func (s *site) drum(v *visit) (view, error) {
	d, err := s.readDrum(v)
	if err != nil {
		return view{}, err
	}
	retired := d.GetRetireTime() != nil
	return view{page: "drum", title: "Drum " + idOf(d.GetName()), data: map[string]any{
		"Drum": d, "MayRegister": v.mayCall(registerDrum), "MayRelease": d.GetOpenBarrel() != "" && v.mayCall(releaseDrum),
		"MayRetire": !retired && d.GetOpenBarrel() == "" && v.mayCall(retireDrum), "MayStock": v.mayCall(listStock),
	}}, nil
}

// newDrum says what a drum is, for the first time or again.
func (s *site) newDrum(v *visit) (view, error) {
	f := v.form()
	f.set("container", "STEEL_CLOSED_HEAD")
	f.set("ownership", "COOPERATIVE")
	return s.plainTask(v, f, "newdrum", "Register a drum", map[string]any{"Containers": containerOptions, "Ownerships": ownerships}, func() (string, error) {
		made, err := s.intake.RegisterDrum(v.ctx, &intakev1.RegisterDrumRequest{
			RequestId: f.RequestID, DrumTag: strings.ToUpper(f.Value("drum_tag")), Owner: memberName(f.Value("owner")),
			Container: intakev1.Container(intakev1.Container_value["CONTAINER_"+f.Value("container")]),
			Ownership: intakev1.DrumOwnership(intakev1.DrumOwnership_value["DRUM_OWNERSHIP_"+f.Value("ownership")]),
		})
		return "/drums/" + url.PathEscape(idOf(made.GetName())), err
	})
}

// releaseDrum frees a drum whose barrel left in a way the warehouse does not know.
func (s *site) releaseDrum(v *visit) (view, error) {
	d, err := s.readDrum(v)
	if err != nil {
		return view{}, err
	}
	f := v.form()
	return s.plainTask(v, f, "releasedrum", "Free drum "+idOf(d.GetName()), map[string]any{"Drum": d}, func() (string, error) {
		_, err := s.intake.ReleaseDrum(v.ctx, &intakev1.ReleaseDrumRequest{
			RequestId: f.RequestID, Name: d.GetName(), Reason: f.Value("reason"), EmptyWeight: s.massOr(f.Value("empty_weight")),
		})
		return "/drums/" + url.PathEscape(idOf(d.GetName())), err
	})
}

func (s *site) retireDrum(v *visit) (view, error) {
	d, err := s.readDrum(v)
	if err != nil {
		return view{}, err
	}
	f := v.form()
	return s.plainTask(v, f, "retiredrum", "Retire drum "+idOf(d.GetName()), map[string]any{"Drum": d}, func() (string, error) {
		_, err := s.intake.RetireDrum(v.ctx, &intakev1.RetireDrumRequest{RequestId: f.RequestID, Name: d.GetName(), Reason: f.Value("reason")})
		return "/drums/" + url.PathEscape(idOf(d.GetName())), err
	})
}
