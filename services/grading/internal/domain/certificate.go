package domain

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
)

// Certificate is a released grade decision. It is superseded, never edited.
type Certificate struct {
	ID uuid.UUID
	// Number is gap-free in its year, e.g. "G-2026-000412".
	Number   string
	Sample   string
	Variety  string
	CropYear int32
	Decision Decision
	// Readings are copies of what it rests on.
	Readings []Reading
	Style    Style
	Releaser string
	Time     time.Time
	// Supersedes is nil for a first.
	Supersedes *uuid.UUID
	Reason     string
	// AppealUntil is the last day, by the cooperative's calendar, on which it can be appealed.
	AppealUntil time.Time
}

// Name is the resource name.
func (c *Certificate) Name() string { return CertificateName(c.ID) }

// CertificateNumber prints a number; the counter starts at one each year.
func CertificateNumber(year int, counter int64) string {
	return fmt.Sprintf("G-%d-%06d", year, counter)
}

// Release is the request to certify a sample.
type Release struct {
	Sample Sample
	Style  Style
	// Standing readings, one a factor.
	Standing []Reading
	// Doubted reports a reading that a failed control put in doubt.
	Doubted func(Reading) bool
	// Gaps in the chain of custody of the sample's portions.
	Gaps []CustodyGap
	// Analysts is everyone who ever measured the sample, also readings since replaced.
	Analysts []string
	Releaser string
	// Differences are to jars of the same honey under other codes.
	Differences []Difference
	// RereadsEnforced refuses a borderline reading that was not read twice more.
	RereadsEnforced bool
	// Previous is the certificate that stands, nil for none.
	Previous *Certificate
	Reason   string
}

// Decide judges the sample by the house standard and checks that it may be released. The result has neither id nor number
// nor time. Errors: *StateError, *SamePersonError, *ReasonRequiredError.
func (r *Release) Decide(standard *Standard) (Certificate, error) {
	rests, err := r.readings(standard)
	if err != nil {
		return Certificate{}, err
	}
	if err := r.mustAgree(standard, rests); err != nil {
		return Certificate{}, err
	}
	if slices.Contains(r.Analysts, r.Releaser) {
		return Certificate{}, &SamePersonError{First: r.Releaser, Message: fmt.Sprintf(
			"%s measured %s and may not release it: ask another person to release", r.Releaser, r.Sample.Name())}
	}
	if err := r.mayReplace(rests); err != nil {
		return Certificate{}, err
	}
	c := Certificate{
		Sample: r.Sample.Code, Variety: r.Sample.Variety, CropYear: r.Sample.CropYear,
		Readings: rests, Style: r.Style, Releaser: r.Releaser,
	}
	if r.Previous != nil {
		replaced := r.Previous.ID
		c.Supersedes, c.Reason = &replaced, strings.TrimSpace(r.Reason)
	}
	c.Decision, err = r.judge(standard, rests)
	return c, err
}

// readings picks what the style is judged by and names what is missing.
func (r *Release) readings(standard *Standard) ([]Reading, error) {
	var rests []Reading
	var missing []Factor
	for _, f := range standard.Required(r.Style) {
		at := slices.IndexFunc(r.Standing, func(s Reading) bool { return s.Factor == f })
		if at < 0 {
			missing = append(missing, f)
			continue
		}
		rests = append(rests, r.Standing[at])
	}
	if err := r.mustNotDoubt(rests); err != nil {
		return nil, err
	}
	if err := r.mustHaveCustody(rests); err != nil {
		return nil, err
	}
	if len(missing) > 0 {
		return nil, &StateError{r.Sample.Name(), Waiting.String(), fmt.Sprintf(
			"%s has no reading of %s: measure it before releasing", r.Sample.Name(), listFactors(missing))}
	}
	return rests, nil
}

// mustNotDoubt refuses what a failed control put in doubt until it is measured again or confirmed.
func (r *Release) mustNotDoubt(rests []Reading) error {
	var doubted []Factor
	for i := range rests {
		if r.Doubted != nil && r.Doubted(rests[i]) {
			doubted = append(doubted, rests[i].Factor)
		}
	}
	if len(doubted) == 0 {
		return nil
	}
	return &StateError{r.Sample.Name(), Pending.String(), fmt.Sprintf(
		"a failed control put the reading of %s in doubt: measure it again, or have the results confirmed", listFactors(doubted))}
}

// mustAgree refuses readings that the house rules want read again.
func (r *Release) mustAgree(standard *Standard, rests []Reading) error {
	if r.Sample.Original != "" {
		return &StateError{r.Sample.Name(), "DUPLICATE", r.Sample.Name() + " is a duplicate jar: release the sample it belongs to"}
	}
	for i := range r.Differences {
		if !r.Differences[i].Agrees {
			return &StateError{r.Sample.Name(), "DUPLICATE_DIFFERS", "a second jar of the same honey disagrees: " + r.Differences[i].Words()}
		}
	}
	for i := range rests {
		if words := House().BorderlineWords(standard, &rests[i]); words != "" && r.RereadsEnforced {
			return &StateError{r.Sample.Name(), "BORDERLINE", words}
		}
	}
	return nil
}

// mayReplace insists that a certificate is issued anew only for a new reading, and says why.
func (r *Release) mayReplace(rests []Reading) error {
	if r.Previous == nil {
		return nil
	}
	if strings.TrimSpace(r.Reason) == "" {
		return &ReasonRequiredError{
			Message: fmt.Sprintf("%s has certificate %s (%s): say in reason why it is issued anew",
				r.Sample.Name(), r.Previous.Number, r.Previous.Decision.Grade),
			Meta: map[string]string{"certificate": r.Previous.Name()},
		}
	}
	if slices.EqualFunc(rests, r.Previous.Readings, func(a, b Reading) bool { return a.ID == b.ID }) {
		return &StateError{r.Sample.Name(), Certified.String(), fmt.Sprintf(
			"certificate %s rests on the same readings: measure again before issuing another", r.Previous.Number)}
	}
	return nil
}

func (r *Release) judge(standard *Standard, rests []Reading) (Decision, error) {
	q := Question{Style: r.Style, Source: r.Sample.Variety}
	for i := range rests {
		if err := q.Set(rests[i].Factor, rests[i].Reported); err != nil {
			return Decision{}, fmt.Errorf("reading %s: %w", rests[i].ID, err)
		}
	}
	return standard.Judge(&q)
}

const certificatePrefix = "certificates/"

// CertificateName is the resource name of an id.
func CertificateName(id uuid.UUID) string { return certificatePrefix + id.String() }

// CertificateID reads the id out of a resource name. A name that cannot be one answers like one that does not exist.
func CertificateID(name string) (uuid.UUID, error) {
	return parseID(certificatePrefix, name)
}

func parseID(prefix, name string) (uuid.UUID, error) {
	text, ok := strings.CutPrefix(name, prefix)
	id, err := uuid.Parse(text)
	if !ok || err != nil || id.String() != text {
		return uuid.UUID{}, &NotFoundError{Resource: name}
	}
	return id, nil
}
