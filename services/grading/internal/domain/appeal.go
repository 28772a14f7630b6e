package domain

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
)

// Stage is a step of the ladder of appeals.
type Stage string

// Stages: the co-op's own second look by another technician, then the sealed portion at an outside laboratory, whose
// result is final.
const (
	Retest  Stage = "RETEST"
	Referee Stage = "REFEREE"
)

// Appeal is a request to measure one factor of a certificate again.
type Appeal struct {
	ID          uuid.UUID
	Certificate uuid.UUID
	Sample      string
	Factor      Factor
	Stage       Stage
	Reason      string
	Opener      string
	Time        time.Time
	// Reading is nil until it was measured, Decision until it was decided.
	Reading  *AppealReading
	Decision *AppealDecision
}

// AppealReading is what the second look showed.
type AppealReading struct {
	Reading
	// Laboratory is the outside laboratory and its report, for a referee.
	Laboratory string
}

// AppealDecision ends an appeal.
type AppealDecision struct {
	Upheld  bool
	Decider string
	Time    time.Time
	// Date by the cooperative's calendar: the days of the next stage count from it.
	Date        time.Time
	Explanation string
	// NewCertificate supersedes the appealed one; nil where the original stands.
	NewCertificate *uuid.UUID
}

const appealPrefix = "appeals/"

// Name is the resource name.
func (a *Appeal) Name() string { return appealPrefix + a.ID.String() }

// AppealID reads the id out of a resource name. A name that cannot be one answers like one that does not exist.
func AppealID(name string) (uuid.UUID, error) { return parseID(appealPrefix, name) }

// State is OPEN, MEASURED or DECIDED.
func (a *Appeal) State() string {
	switch {
	case a.Decision != nil:
		return "DECIDED"
	case a.Reading != nil:
		return "MEASURED"
	default:
		return "OPEN"
	}
}

// Fee is what becomes of the referee's fee: the loser bears it. A re-test is free.
func (a *Appeal) Fee() string {
	switch {
	case a.Stage == Retest:
		return "NONE"
	case a.Decision == nil:
		return "OPEN"
	case a.Decision.Upheld:
		return "REFUNDED"
	default:
		return "DUE"
	}
}

// DeadlinePassedError is an appeal that came too late. Reason DEADLINE_PASSED.
type DeadlinePassedError struct{ Ended time.Time }

// Error is the message for people.
func (e *DeadlinePassedError) Error() string {
	return fmt.Sprintf("the time to appeal ended on %s: what was measured stands. "+
		"Whether the procedure was kept can still be brought before the board", e.Ended.Format(time.DateOnly))
}

// Reason is the wire reason.
func (e *DeadlinePassedError) Reason() string { return "DEADLINE_PASSED" }

// Metadata holds the last day.
func (e *DeadlinePassedError) Metadata() map[string]string {
	return map[string]string{"ended": e.Ended.Format(time.DateOnly)}
}

// AppealUntil is the last day for an appeal of what was issued or decided on a day.
func (h *HouseRules) AppealUntil(day time.Time) time.Time { return day.AddDate(0, 0, h.AppealDays) }

// Date is the calendar day of an instant in a zone, as midnight in Universal Time: days are counted, not hours.
func Date(at time.Time, zone *time.Location) time.Time {
	year, month, day := at.In(zone).Date()
	return time.Date(year, month, day, 0, 0, 0, 0, time.UTC)
}

// Open checks whether an appeal may be opened today. superseded says that the certificate no longer stands; earlier are
// the appeals of the same sample and factor. Errors: *FieldError, *StateError, *DeadlinePassedError.
func (h *HouseRules) Open(a *Appeal, c *Certificate, superseded bool, earlier []Appeal, today time.Time) error {
	if superseded {
		return &StateError{c.Name(), "SUPERSEDED", "certificate " + c.Number + " was superseded: appeal the one that stands"}
	}
	if !slices.ContainsFunc(c.Readings, func(r Reading) bool { return r.Factor == a.Factor }) {
		return &FieldError{"factor", fmt.Sprintf("certificate %s does not rest on %s", c.Number, a.Factor.Words())}
	}
	until := c.AppealUntil
	var retest, referee *Appeal
	for i := range earlier {
		switch earlier[i].Stage {
		case Retest:
			retest = &earlier[i]
		case Referee:
			referee = &earlier[i]
		}
	}
	if err := a.mayFollow(retest, referee); err != nil {
		return err
	}
	if a.Stage == Referee && h.AppealUntil(retest.Decision.Date).After(until) {
		until = h.AppealUntil(retest.Decision.Date)
	}
	if today.After(until) {
		return &DeadlinePassedError{Ended: until}
	}
	return nil
}

// mayFollow keeps to the ladder: one re-test, then one referee.
func (a *Appeal) mayFollow(retest, referee *Appeal) error {
	refuse := func(by *Appeal, message string) error {
		return &StateError{by.Name(), by.State(), message}
	}
	switch {
	case referee != nil:
		return refuse(referee, a.Factor.Words()+" went to the referee already, whose result is final: only the procedure can be brought before the board")
	case a.Stage == Retest && retest != nil:
		return refuse(retest, a.Factor.Words()+" was appealed already: after the re-test is decided the next step is the referee")
	case a.Stage == Referee && retest == nil:
		return &StateError{SampleName(a.Sample), "NOT_RETESTED", "the referee comes after a re-test: open one first"}
	case a.Stage == Referee && retest.Decision == nil:
		return refuse(retest, "the re-test is not decided yet")
	}
	return nil
}

// Measure takes the second look. analysts are all who measured the sample before. Errors: those of the package's Measure,
// *FieldError, *StateError, *SamePersonError.
func (a *Appeal) Measure(in AppealReading, analysts []string) (AppealReading, error) {
	if a.Reading != nil {
		return in, &StateError{a.Name(), a.State(), "the appeal was measured already"}
	}
	if in.Kind.Factor() != a.Factor {
		return in, &FieldError{"kind", "the appeal is about " + a.Factor.Words() + ", which this method does not measure"}
	}
	in.Laboratory = strings.TrimSpace(in.Laboratory)
	switch {
	case a.Stage == Referee && in.Laboratory == "":
		return in, &FieldError{"laboratory", "laboratory is missing: name the outside laboratory and its report"}
	case a.Stage == Retest && in.Laboratory != "":
		return in, &FieldError{"laboratory", "a re-test is done here: leave laboratory empty"}
	case a.Stage == Retest && slices.Contains(analysts, in.Analyst):
		return in, &SamePersonError{First: in.Analyst, Message: fmt.Sprintf(
			"%s measured this sample before: a re-test is another person's", in.Analyst)}
	}
	m, err := Measure(in.Kind, in.RawValue, in.Temperature)
	if err != nil {
		return in, err
	}
	in.Factor, in.Computed, in.Reported, in.Explanation = m.Factor, m.Computed, m.Reported, m.Explanation
	return in, nil
}

// materialSigmas is how many standard deviations of a single reading make a difference material: the published model of
// re-inspection lets the original stand unless the new result differs by more than two.
const materialSigmas = 2

// Decide compares the second look with the reading the certificate rests on. Who measured either may not decide. Errors:
// *StateError, *SamePersonError.
func (h *HouseRules) Decide(a *Appeal, original *Reading, decider string) (AppealDecision, error) {
	if a.Decision != nil {
		return AppealDecision{}, &StateError{a.Name(), a.State(), "the appeal is decided already"}
	}
	if a.Reading == nil {
		return AppealDecision{}, &StateError{a.Name(), a.State(), "the appeal was not measured yet"}
	}
	// A referee's reading was not made by whoever typed the report in.
	if decider == original.Analyst || (a.Stage == Retest && decider == a.Reading.Analyst) {
		return AppealDecision{}, &SamePersonError{First: decider, Message: decider + " measured what is appealed: ask another person to decide"}
	}
	most := materialSigmas * h.Precision[a.Factor]
	off := a.Reading.Reported - original.Reported
	d := AppealDecision{Decider: decider, Upheld: beyond(off, most)}
	relation, outcome := "within", "the original stands"
	if d.Upheld {
		relation, outcome = "more than", "the new result takes its place"
	}
	if off < 0 {
		off = -off
	}
	d.Explanation = sentence(fmt.Sprintf("%s read %s, the certificate says %s: a difference of %s, %s the %s that two readings of the same honey may be apart, so %s.",
		a.Factor.Words(), a.Factor.FormatUnit(a.Reading.Reported), a.Factor.FormatUnit(original.Reported),
		a.Factor.FormatUnit(off), relation, a.Factor.FormatUnit(most), outcome))
	return d, nil
}

// Accepted is the reading that takes the place of the original after an appeal was upheld.
func (a *Appeal) Accepted(original *Reading) Reading {
	r := a.Reading.Reading
	replaced := original.ID
	r.Portion = StoredPortion(r.Portion)
	r.Sample, r.Replaces, r.Reason = a.Sample, &replaced, fmt.Sprintf("appeal upheld (%s)", strings.ToLower(string(a.Stage)))
	if a.Reading.Laboratory != "" {
		r.Instrument = a.Reading.Laboratory
	}
	return r
}
