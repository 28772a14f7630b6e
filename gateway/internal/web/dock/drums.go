package dock

import (
	"net/url"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
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

var containerOptions = []site.Option{
	{Value: "STEEL_CLOSED_HEAD", Label: "steel, with bung"},
	{Value: "STEEL_OPEN_HEAD", Label: "steel, with lid and ring"},
	{Value: "STEEL_LINED", Label: "steel, lined"},
	{Value: "PLASTIC", Label: "plastic drum"},
	{Value: "PAIL", Label: "pail"},
	{Value: "TOTE", Label: "tote"},
}

var ownerships = []site.Option{
	{Value: "COOPERATIVE", Label: "the cooperative's"},
	{Value: "MEMBER", Label: "a member's"},
	{Value: "EXCHANGE", Label: "goes round"},
}

// drumCount is how the drums of one page stand.
type drumCount struct{ Full, Free, Retired int }

// drums lists them by tag, all or those of one owner, and takes a scanned tag to its drum.
func (s room) drums(v *site.Visit) (site.View, error) {
	query := v.URL.Query()
	if tag := strings.ToUpper(strings.TrimSpace(query.Get("tag"))); tag != "" {
		return site.View{GoTo: "/drums/" + url.PathEscape(tag)}, nil
	}
	found, err := s.Intake.ListDrums(v.Ctx, &intakev1.ListDrumsRequest{PageSize: 100, PageToken: query.Get("page"), Owner: site.MemberName(query.Get("owner"))})
	if err != nil {
		return site.View{}, err
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
	return site.View{Page: "drums", Title: "Drums", Data: map[string]any{
		"Drums": found.GetDrums(), "Count": count, "Owner": query.Get("owner"), "MayRegister": v.MayCall(registerDrum), "Next": site.NextPage(v, found.GetNextPageToken()),
	}}, nil
}

func (s room) readDrum(v *site.Visit) (*intakev1.Drum, error) {
	return s.Intake.GetDrum(v.Ctx, &intakev1.GetDrumRequest{Name: "drums/" + strings.ToUpper(v.PathValue("tag"))})
}

func (s room) drum(v *site.Visit) (site.View, error) {
	d, err := s.readDrum(v)
	if err != nil {
		return site.View{}, err
	}
	retired := d.GetRetireTime() != nil
	return site.View{Page: "drum", Title: "Drum " + site.IDOf(d.GetName()), Data: map[string]any{
		"Drum": d, "MayRegister": v.MayCall(registerDrum), "MayRelease": d.GetOpenBarrel() != "" && v.MayCall(releaseDrum),
		"MayRetire": !retired && d.GetOpenBarrel() == "" && v.MayCall(retireDrum), "MayStock": v.MayCall(listStock),
	}}, nil
}

// newDrum says what a drum is, for the first time or again.
func (s room) newDrum(v *site.Visit) (site.View, error) {
	f := v.Form()
	f.Set("container", "STEEL_CLOSED_HEAD")
	f.Set("ownership", "COOPERATIVE")
	return s.PlainTask(v, f, "newdrum", "Register a drum", map[string]any{"Containers": containerOptions, "Ownerships": ownerships}, func() (string, error) {
		made, err := s.Intake.RegisterDrum(v.Ctx, &intakev1.RegisterDrumRequest{
			RequestId: f.RequestID, DrumTag: strings.ToUpper(f.Value("drum_tag")), Owner: site.MemberName(f.Value("owner")),
			Container: intakev1.Container(intakev1.Container_value["CONTAINER_"+f.Value("container")]),
			Ownership: intakev1.DrumOwnership(intakev1.DrumOwnership_value["DRUM_OWNERSHIP_"+f.Value("ownership")]),
		})
		return "/drums/" + url.PathEscape(site.IDOf(made.GetName())), err
	})
}

// releaseDrum frees a drum whose barrel left in a way the warehouse does not know.
func (s room) releaseDrum(v *site.Visit) (site.View, error) {
	d, err := s.readDrum(v)
	if err != nil {
		return site.View{}, err
	}
	f := v.Form()
	return s.PlainTask(v, f, "releasedrum", "Free drum "+site.IDOf(d.GetName()), map[string]any{"Drum": d}, func() (string, error) {
		_, err := s.Intake.ReleaseDrum(v.Ctx, &intakev1.ReleaseDrumRequest{
			RequestId: f.RequestID, Name: d.GetName(), Reason: f.Value("reason"), EmptyWeight: s.MassOr(f.Value("empty_weight")),
		})
		return "/drums/" + url.PathEscape(site.IDOf(d.GetName())), err
	})
}

func (s room) retireDrum(v *site.Visit) (site.View, error) {
	d, err := s.readDrum(v)
	if err != nil {
		return site.View{}, err
	}
	f := v.Form()
	return s.PlainTask(v, f, "retiredrum", "Retire drum "+site.IDOf(d.GetName()), map[string]any{"Drum": d}, func() (string, error) {
		_, err := s.Intake.RetireDrum(v.Ctx, &intakev1.RetireDrumRequest{RequestId: f.RequestID, Name: d.GetName(), Reason: f.Value("reason")})
		return "/drums/" + url.PathEscape(site.IDOf(d.GetName())), err
	})
}
