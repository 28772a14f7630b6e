package domain

import (
	"strconv"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// FindingOutcome is what was decided about a barrel in doubt.
type FindingOutcome string

// What may be decided.
const (
	OriginalKept FindingOutcome = "ORIGINAL_KEPT"
	ReweighUsed  FindingOutcome = "REWEIGH_USED"
	Accepted     FindingOutcome = "ACCEPTED"
	Withdrawn    FindingOutcome = "WITHDRAWN"
)

// Finding is the decision about one barrel.
type Finding struct {
	Barrel  uuid.UUID
	Outcome FindingOutcome
	// Reweigh is the ordinal of the re-weigh it rests on, or 0.
	Reweigh   int
	Net       quantity.Mass
	TicketNet quantity.Mass
	Note      string
}

// Accepting is what the office accepts without a re-weigh.
type Accepting struct {
	// Notes are by barrel, Rest is for all others.
	Notes map[uuid.UUID]string
	Rest  string
}

// Suspect is a barrel in doubt with what became of it since.
type Suspect struct {
	Barrel   Barrel
	State    State
	Reweighs Reweighs
}

// Resolve decides about every barrel, which suspects lists in the order of the doubts.
func (r ScaleReview) Resolve(suspects []Suspect, by Accepting, resolver string, at time.Time) (ScaleReview, error) {
	if err := r.mayResolve(suspects, resolver); err != nil {
		return r, err
	}
	if err := r.vetNotes(suspects, by); err != nil {
		return r, err
	}
	undecided, first := 0, ""
	for _, s := range suspects {
		f := s.finding(by)
		if f.Outcome == Accepted && f.Note == "" {
			undecided++
			if first == "" {
				first = s.Barrel.DrumTag
			}
		}
		r.Findings = append(r.Findings, f)
	}
	if undecided > 0 {
		refused := stateForbids(r.Name(), "UNDECIDED", "%s of %s barrels have neither a re-weigh nor a note (first: drum %s): weigh them "+
			"again, or say why they are accepted", quantity.Whole(int64(undecided)), quantity.Whole(int64(len(suspects))), first)
		refused.metadata["undecided"] = strconv.Itoa(undecided)
		return r, refused
	}
	r.Resolver, r.ResolveTime = resolver, at
	return r, nil
}

// mayResolve wants somebody who has no weight of their own in it.
func (r ScaleReview) mayResolve(suspects []Suspect, resolver string) error {
	if r.Resolver != "" {
		return stateForbids(r.Name(), "RESOLVED", "this review was decided by %s already", r.Resolver)
	}
	if resolver == r.Failed.Checker {
		return samePerson(resolver, "you made the check that opened this review: somebody else in the office has to decide it")
	}
	for _, s := range suspects {
		weighed := resolver == s.Barrel.Weigher
		for _, w := range s.Reweighs {
			weighed = weighed || resolver == w.Weigher
		}
		if weighed {
			return samePerson(resolver, "you weighed drum %s: somebody who weighed none of these barrels has to decide", s.Barrel.DrumTag)
		}
	}
	return nil
}

// vetNotes refuses to accept what a re-weigh has decided, or what is not in the review.
func (r ScaleReview) vetNotes(suspects []Suspect, by Accepting) error {
	known := map[uuid.UUID]Suspect{}
	for _, s := range suspects {
		known[s.Barrel.ID] = s
	}
	for barrel := range by.Notes {
		s, in := known[barrel]
		if !in {
			return invalid("accepted", "%s is not in this review", Barrel{ID: barrel}.Name())
		}
		if _, again := s.Reweighs.Valid(); again {
			return invalid("accepted", "drum %s was weighed again, and that decides: leave it out", s.Barrel.DrumTag)
		}
	}
	return nil
}

func (s Suspect) finding(by Accepting) Finding {
	f := Finding{Barrel: s.Barrel.ID, Net: s.Barrel.Net(), TicketNet: s.Barrel.Net()}
	again, ok := s.Reweighs.Valid()
	switch {
	case s.State != Open && s.State != Closed:
		f.Outcome = Withdrawn
	case ok && again.Counts():
		f.Outcome, f.Reweigh, f.Net = ReweighUsed, again.Ordinal, again.Net()
	case ok:
		f.Outcome, f.Reweigh, f.Net = OriginalKept, again.Ordinal, again.Net()
	default:
		f.Outcome, f.Note = Accepted, by.Notes[s.Barrel.ID]
		if f.Note == "" {
			f.Note = by.Rest
		}
	}
	return f
}
