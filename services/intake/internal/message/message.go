// Package message writes what the domain knows as messages of barrelhead.intake.v1, for answers and for facts alike: a
// neighbour reads of a ticket exactly what a caller does.
package message

import (
	"time"

	"github.com/google/uuid"
	"google.golang.org/protobuf/types/known/timestamppb"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
)

// Writer writes in one unit of mass and one currency.
type Writer struct {
	Unit     quantity.Unit
	Currency string
}

func (w Writer) mass(m quantity.Mass) *typev1.Mass { return wire.MassToProto(m, w.Unit) }

func stamp(t time.Time) *timestamppb.Timestamp {
	if t.IsZero() {
		return nil
	}
	return timestamppb.New(t)
}

// Member writes a member.
func (Writer) Member(m domain.Member) *intakev1.Member {
	return &intakev1.Member{
		Name: m.Name(), DisplayName: m.DisplayName, AgreementVersion: m.AgreementVersion, JoinDate: m.JoinDate,
		CreateTime: stamp(m.CreateTime),
	}
}

// Barrel writes a barrel.
func (w Writer) Barrel(b domain.Barrel) *intakev1.Barrel {
	return &intakev1.Barrel{
		Name: b.Name(), Ticket: ticketName(b.Ticket), Line: int32(b.Line), DrumTag: b.DrumTag, Variety: b.Variety, //nolint:gosec // a delivery has no two billion lines
		Gross: w.mass(b.Gross), Tare: w.mass(b.Tare), TareKind: tareKinds[b.TareKind], Net: w.mass(b.Net()),
		Scale: domain.Scale{ID: b.Scale}.Name(), RawIndication: b.RawIndication, Manual: b.Manual, Reason: b.Reason,
		Warnings: b.Warnings, Sample: SampleName(b.Sample), Weigher: b.Weigher, WeighTime: stamp(b.WeighTime), RecordTime: stamp(b.RecordTime),
		Seals: seals(b.Seals), Indication: domain.CaptureName(b.Scale, b.Capture), Container: containers[b.Container],
		Part: b.Part, PaperNumber: b.Paper, PaperConfirmer: b.PaperConfirmer, PaperConfirmTime: stamp(b.PaperTime),
		Member: memberName(b.Member), CropYear: int32(b.CropYear), //nolint:gosec // checked against the calendar
	}
}

// SampleName is "samples/{code}", or empty before a sample was drawn.
func SampleName(code string) string {
	if code == "" {
		return ""
	}
	return "samples/" + code
}

func ticketName(id uuid.UUID) string {
	if id == uuid.Nil {
		return ""
	}
	return domain.Ticket{ID: id}.Name()
}

// Ticket writes a ticket with what barrels it was read with.
func (w Writer) Ticket(t domain.Ticket) *intakev1.Ticket {
	barrels := make([]*intakev1.Barrel, 0, len(t.Barrels))
	for _, b := range t.Barrels {
		barrels = append(barrels, w.Barrel(b))
	}
	return &intakev1.Ticket{
		Name: t.Name(), Number: t.Number.String(), State: ticketStates[t.State], Member: memberName(t.Member),
		MemberDisplayName: t.MemberName, CropYear: int32(t.CropYear), Hauler: t.Hauler, HarvestDeclared: t.HarvestDeclared, //nolint:gosec // checked against the calendar
		Barrels: barrels, NetTotal: w.mass(t.NetTotal), Supersedes: ticketName(t.Supersedes),
		SupersededBy: ticketName(t.SupersededBy), Void: void(t.Void), Weigher: t.Weigher, OpenTime: stamp(t.OpenTime),
		CloseTime: stamp(t.CloseTime), DeliveryDate: t.DeliveryDate, Etag: t.ETag(),
		RecordTime: stamp(t.RecordTime), Owners: owners(t.Owners), LateDeclareTime: stamp(t.LateDeclareTime),
		Vehicle: t.Vehicle, YardRegion: t.YardRegion, Claims: claims(t.Claims), Remarks: t.Remarks, Driver: t.Driver,
	}
}

func claims(all []domain.Claim) []*intakev1.HoneyClaim {
	var out []*intakev1.HoneyClaim
	for _, c := range all {
		out = append(out, &intakev1.HoneyClaim{Claim: c.Text, Certificate: c.Certificate})
	}
	return out
}

// memberName is empty for a member the reader may not know.
func memberName(number string) string {
	if number == "" {
		return ""
	}
	return domain.Member{Number: number}.Name()
}

func owners(all domain.Owners) []*intakev1.OwnerShare {
	var out []*intakev1.OwnerShare
	for _, o := range all {
		out = append(out, &intakev1.OwnerShare{Member: memberName(o.Member), MemberDisplayName: o.Name, SharePercent: o.Share.String()})
	}
	return out
}

// StandingSplit writes a split.
func (Writer) StandingSplit(s domain.StandingSplit) *intakev1.StandingSplit {
	return &intakev1.StandingSplit{
		Name: s.Name(), Member: memberName(s.Member), EffectiveDate: s.From, Owners: owners(s.Owners), Note: s.Note, Setter: s.Setter,
		SetTime: stamp(s.SetTime),
	}
}

func void(v *domain.Void) *intakev1.TicketVoid {
	if v == nil {
		return nil
	}
	return &intakev1.TicketVoid{
		Reason: v.Reason, Requester: v.Requester, RequestTime: stamp(v.RequestTime), ReissueMember: memberName(v.ReissueMember),
		Approver: v.Approver, ApproveTime: stamp(v.ApproveTime), ReissueOwners: owners(v.ReissueOwners),
	}
}

// Scale writes a scale with its newest check.
func (w Writer) Scale(s domain.Scale) *intakev1.Scale {
	return &intakev1.Scale{
		Name: s.Name(), Description: s.Description, Division: w.mass(s.Division), Capacity: w.mass(s.Capacity),
		AccuracyClass: classes[s.Class], Seal: s.Seal, CertificateExpireDate: s.CertificateExpireDate, LastCheck: w.Check(s.LastCheck),
		LastCornerCheckDate: s.Care.CornerDate,
	}
}

// Check writes a check; nil stays nil.
func (w Writer) Check(c *domain.Check) *intakev1.ScaleCheck {
	if c == nil {
		return nil
	}
	loads := make([]*intakev1.CheckLoad, 0, len(c.Loads))
	for _, l := range c.Loads {
		loads = append(loads, &intakev1.CheckLoad{
			WeightId: l.WeightID, Known: w.mass(l.Known), Indication: w.mass(l.Indication), Position: l.Position,
			Tolerance: w.mass(l.Tolerance), Error: w.mass(l.Error), Passed: l.Passed,
		})
	}
	return &intakev1.ScaleCheck{
		Name: c.Name(), ZeroIndication: w.mass(c.Zero), Loads: loads, ToleranceKind: columns[c.Column], Passed: c.Passed,
		Checker: c.Checker, CheckTime: stamp(c.Time), CheckDate: c.Date, Finding: c.Finding, Seal: c.Seal,
		ToleranceSource: domain.ToleranceSource(c.Class),
	}
}

// Drum writes a drum.
func (w Writer) Drum(d domain.Drum) *intakev1.Drum {
	out := &intakev1.Drum{
		Name: d.Name(), Container: containers[d.Asset.Container], Ownership: ownerships[d.Asset.Ownership],
		RegisterTime: stamp(d.Asset.RegisterTime), RetireTime: stamp(d.Asset.RetireTime), RetireReason: d.Asset.RetireReason,
	}
	if d.Asset.Owner != "" {
		out.Owner = domain.Member{Number: d.Asset.Owner}.Name()
	}
	if d.Fill != nil {
		out.OpenBarrel = domain.Barrel{ID: d.Fill.Barrel}.Name()
	}
	if last := d.LastTare(); last != (domain.Tare{}) {
		out.LastTare, out.LastTareTime = w.mass(last.Weight), stamp(last.Time)
	}
	return out
}
