package dock

import (
	"barrelhead.example/gateway/internal/web/site"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

// The RPCs behind the pages of barrels that were not taken in.
const (
	rejectBarrel = intakev1.IntakeService_RejectBarrel_FullMethodName
	recordExit   = intakev1.IntakeService_RecordRejectExit_FullMethodName
	listRejects  = intakev1.IntakeService_ListRejectedBarrels_FullMethodName
)

// rejectReasons in the words of the dock, the most frequent first.
var rejectReasons = site.NewOptions(
	"FERMENTING", "foaming, sour or under pressure", "LEAKING", "leaks", "DIRTY_CONTAINER", "dirty, or unknown what it held", "RUSTED", "rust, or lining failed",
	"NOT_FOR_FOOD", "not a container for food", "ODOUR", "smells of smoke or chemicals", "DEBRIS", "bees, wood, wax in it", "WET_LAYER", "wet layer on top",
	"UNDERFILLED", "far too little in it", "UNIDENTIFIED", "nobody knows whose", "BROKEN_SEAL", "seal broken", "UNKNOWN_MIXTURE", "sources nobody can name",
	"UNWANTED_SOURCE", "a source we do not take",
)

var rejectLabel = site.Labels(rejectReasons)

// reject is a barrel that stands here and is nobody's stock.
type reject struct {
	*intakev1.RejectedBarrel
	Why      string
	Standing bool
}

// rejects are the barrels of a ticket that were not taken in, for whoever may see them.
func (s room) rejects(v *site.Visit, ticket string) ([]reject, error) {
	if !v.MayCall(listRejects) {
		return nil, nil
	}
	found, err := s.Intake.ListRejectedBarrels(v.Ctx, &intakev1.ListRejectedBarrelsRequest{Ticket: ticket})
	if err != nil {
		return nil, err
	}
	var all []reject
	for _, r := range found.GetRejectedBarrels() {
		all = append(all, reject{RejectedBarrel: r, Why: rejectLabel(r.GetReason()), Standing: r.GetFate() == intakev1.RejectFate_REJECT_FATE_UNSPECIFIED})
	}
	return all, nil
}

// rejectABarrel notes a barrel that was brought but not taken in. Its photograph stays on the device that took it: the record
// holds its fingerprint.
func (s room) rejectABarrel(v *site.Visit) (site.View, error) {
	t, err := s.readTicket(v)
	if err != nil {
		return site.View{}, err
	}
	f := v.Form()
	return s.PlainTask(v, f, "reject", "Barrel not taken in", map[string]any{"Ticket": t, "Reasons": rejectReasons}, func() (string, error) {
		_, err := s.Intake.RejectBarrel(v.Ctx, &intakev1.RejectBarrelRequest{
			RequestId: f.RequestID, Ticket: t.GetName(), DrumTag: f.Value("drum_tag"), Note: f.Value("note"), PhotoSha256: f.Value("photo_sha256"),
			Reason: intakev1.RejectReason(intakev1.RejectReason_value["REJECT_REASON_"+f.Value("reason")]),
		})
		return "/tickets/" + site.IDOf(t.GetName()), err
	})
}

// rejectLeft says how a rejected barrel left the site.
func (s room) rejectLeft(v *site.Visit) (site.View, error) {
	t, err := s.readTicket(v)
	if err != nil {
		return site.View{}, err
	}
	all, err := s.rejects(v, t.GetName())
	if err != nil {
		return site.View{}, err
	}
	for _, r := range all {
		if site.IDOf(r.GetName()) == v.PathValue("reject") {
			return s.seeOff(v, t, r)
		}
	}
	return site.View{}, site.ErrNoPage
}

func (s room) seeOff(v *site.Visit, t *intakev1.Ticket, r reject) (site.View, error) {
	f := v.Form()
	f.Set("fate", "COLLECTED")
	fates := site.NewOptions("COLLECTED", "member or hauler took it", "DISPOSED", "disposed of, as the member said")
	return s.PlainTask(v, f, "rejectleft", "It left", map[string]any{"Ticket": t, "Reject": r, "Fates": fates}, func() (string, error) {
		_, err := s.Intake.RecordRejectExit(v.Ctx, &intakev1.RecordRejectExitRequest{
			RequestId: f.RequestID, Name: r.GetName(), Note: f.Value("note"), Fate: intakev1.RejectFate(intakev1.RejectFate_value["REJECT_FATE_"+f.Value("fate")]),
		})
		return "/tickets/" + site.IDOf(t.GetName()), err
	})
}
