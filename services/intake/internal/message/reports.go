package message

import (
	"slices"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
)

// ScaleReview writes a review.
func (w Writer) ScaleReview(r domain.ScaleReview) *intakev1.ScaleReview {
	out := &intakev1.ScaleReview{
		Name: r.Name(), Scale: domain.Scale{ID: r.Failed.Scale}.Name(), FailedCheck: w.Check(&r.Failed), SinceTime: stamp(r.SinceTime),
	}
	for _, id := range r.Tickets() {
		out.Tickets = append(out.Tickets, ticketName(id))
	}
	for _, d := range r.Doubts {
		name := domain.Barrel{ID: d.Barrel}.Name()
		out.Barrels = append(out.Barrels, name)
		if d.InDrum {
			out.ReweighBarrels = append(out.ReweighBarrels, name)
		}
	}
	out.Resolver, out.ResolveTime = r.Resolver, stamp(r.ResolveTime)
	for _, f := range r.Findings {
		out.Findings = append(out.Findings, w.finding(f))
	}
	return out
}

func (w Writer) finding(f domain.Finding) *intakev1.BarrelFinding {
	out := &intakev1.BarrelFinding{
		Barrel: domain.Barrel{ID: f.Barrel}.Name(), Outcome: outcomes[f.Outcome], Net: w.mass(f.Net), NetCorrection: w.mass(f.Net - f.TicketNet),
		Note: f.Note,
	}
	if f.Reweigh > 0 {
		out.Reweigh = domain.Reweigh{Barrel: f.Barrel, Ordinal: f.Reweigh}.Name()
	}
	return out
}

// Reweigh writes a re-weigh.
func (w Writer) Reweigh(r domain.Reweigh) *intakev1.Reweigh {
	return &intakev1.Reweigh{
		Name: r.Name(), Barrel: domain.Barrel{ID: r.Barrel}.Name(), Gross: w.mass(r.Gross), PreviousGross: w.mass(r.Previous),
		Difference: w.mass(r.Difference()), Tolerance: w.mass(r.Tolerance), Counts: r.Counts(), Net: w.mass(r.Net()),
		NetCorrection: w.mass(r.NetCorrection()), Scale: domain.Scale{ID: r.Scale}.Name(), RawIndication: r.RawIndication, Manual: r.Manual,
		Reason: r.Reason, Weigher: r.Weigher, WeighTime: stamp(r.Time), Doubted: r.Doubted,
	}
}

// TareVariance writes a variance.
func (w Writer) TareVariance(v domain.TareVariance) *intakev1.TareVariance {
	return &intakev1.TareVariance{
		Name: v.Name(), Barrel: domain.Barrel{ID: v.Barrel}.Name(), Ticket: ticketName(v.Ticket),
		Member: domain.Member{Number: v.Member}.Name(), DrumTag: v.DrumTag, Tare: w.mass(v.Tare), TareKind: tareKinds[v.TareKind],
		EmptyWeight: w.mass(v.EmptyWeight), NetCorrection: w.mass(v.NetCorrection()), Allowed: w.mass(v.Allowed), Finder: v.Finder,
		FindTime: stamp(v.FindTime),
	}
}

// NumberReport writes the account of a year's ticket numbers.
func (Writer) NumberReport(r domain.NumberReport) *intakev1.TicketNumberReport {
	out := &intakev1.TicketNumberReport{Site: r.Site, Year: int32(r.Year), LastNumber: r.Last} //nolint:gosec // a year
	for state, count := range r.Counts {
		out.StateCounts = append(out.StateCounts, &intakev1.TicketStateCount{State: ticketStates[state], Count: count})
	}
	slices.SortFunc(out.GetStateCounts(), func(a, b *intakev1.TicketStateCount) int { return int(a.GetState() - b.GetState()) })
	for _, number := range r.Missing {
		out.MissingNumbers = append(out.MissingNumbers, number.String())
	}
	for _, e := range r.Exceptions {
		out.Exceptions = append(out.Exceptions, &intakev1.TicketNumberException{
			Number: e.Number.String(), Ticket: ticketName(e.Ticket), State: ticketStates[e.State], Actor: e.Actor, Reason: e.Reason,
			Time: stamp(e.Time),
		})
	}
	return out
}

// Weighers writes a line for each person.
func (Writer) Weighers(lines []domain.WeigherLine) *intakev1.WeigherReport {
	out := &intakev1.WeigherReport{}
	for _, l := range lines {
		out.Lines = append(out.Lines, &intakev1.WeigherLine{
			Weigher: l.Weigher, Barrels: l.Barrels, Manual: l.Manual, Overridden: l.Overridden, Captured: l.Captured, Offline: l.Offline,
		})
	}
	return out
}
