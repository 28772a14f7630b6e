package message

import (
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
)

var portions = map[string]intakev1.Portion{
	"A": intakev1.Portion_PORTION_A, "B": intakev1.Portion_PORTION_B, "C": intakev1.Portion_PORTION_C,
}

var custodyKinds = map[domain.CustodyKind]intakev1.CustodyKind{
	domain.Sealed:    intakev1.CustodyKind_CUSTODY_KIND_SEALED,
	domain.Moved:     intakev1.CustodyKind_CUSTODY_KIND_MOVED,
	domain.Received:  intakev1.CustodyKind_CUSTODY_KIND_RECEIVED,
	domain.Opened:    intakev1.CustodyKind_CUSTODY_KIND_OPENED,
	domain.Stored:    intakev1.CustodyKind_CUSTODY_KIND_STORED,
	domain.Discarded: intakev1.CustodyKind_CUSTODY_KIND_DISCARDED,
}

// PortionOf writes a letter.
func PortionOf(letter string) intakev1.Portion { return portions[letter] }

// PortionLetter reads a portion.
func PortionLetter(p intakev1.Portion) string { return key(portions, p) }

// CustodyKind reads what happened.
func CustodyKind(k intakev1.CustodyKind) domain.CustodyKind { return key(custodyKinds, k) }

// CustodyEvent writes an event.
func CustodyEvent(e domain.CustodyEvent) *intakev1.CustodyEvent {
	return &intakev1.CustodyEvent{
		Ordinal: int32(e.Ordinal), Kind: custodyKinds[e.Kind], Place: e.Place, Seal: e.Seal, Note: e.Note, Actor: e.Actor, //nolint:gosec // few events
		EventTime: stamp(e.Time), RecordTime: stamp(e.RecordTime), Gap: e.Gap,
	}
}

// seals writes those put on when a sample was drawn.
func seals(all []domain.Seal) []*intakev1.PortionSeal {
	var out []*intakev1.PortionSeal
	for _, s := range all {
		out = append(out, &intakev1.PortionSeal{Portion: portions[s.Letter], Seal: s.Number, ExpireDate: s.Expires})
	}
	return out
}

// SampleCustody writes the portions of a sample that were ever sealed.
func (Writer) SampleCustody(all []domain.Portion) *intakev1.SampleCustody {
	out := &intakev1.SampleCustody{}
	for _, p := range all {
		out.Sample = p.SampleName()
		if len(p.Events) == 0 {
			continue
		}
		portion := &intakev1.PortionCustody{
			Portion: portions[p.Letter], Seal: p.Seal(), Place: p.Place(), InTransit: p.InTransit(), LastKind: custodyKinds[p.Last()],
			ExpireDate: p.Expires(), Broken: p.Broken() != "", BrokenReason: p.Broken(),
		}
		for _, e := range p.Events {
			portion.Events = append(portion.Events, CustodyEvent(e))
		}
		out.Portions = append(out.Portions, portion)
	}
	return out
}

// PortionDue writes a portion whose time is over.
func PortionDue(d domain.PortionDue) *intakev1.PortionDue {
	return &intakev1.PortionDue{
		Sample: d.SampleName(), Portion: portions[d.Letter], Seal: d.Seal, Place: d.Place, ExpireDate: d.Expires, LastKind: custodyKinds[d.Last],
	}
}
