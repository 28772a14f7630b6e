package lots

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/inventory/internal/domain/netcontent"
	"barrelhead.example/services/inventory/internal/domain/stock"
)

// NetCheck is a sample of the jars of a lot with its judgement.
type NetCheck struct {
	ID  uuid.UUID
	Run uuid.UUID
	netcontent.Sample
	netcontent.Outcome
	Checker string
	Time    time.Time
	Release *stock.Release
}

// NetCheckName is the resource name, "netContentChecks/{uuid}".
func NetCheckName(id uuid.UUID) string { return "netContentChecks/" + id.String() }

// Weighed judges a sample of a lot in jars; the inspection lot is all of them, shipped or not.
func (r Run) Weighed(id uuid.UUID, s netcontent.Sample, checker string, now time.Time) (NetCheck, error) {
	if !r.Closed {
		return NetCheck{}, &FillingError{Place: r.Place(), Called: r.Called()}
	}
	s.Lot = r.Jars
	outcome, err := s.Judge()
	return NetCheck{ID: id, Run: r.ID, Sample: s, Outcome: outcome, Checker: checker, Time: now}, err
}

// Blocks tells whether the check keeps the lot in the house. A later sample that passes does not lift it: else somebody
// would weigh until one does.
func (c NetCheck) Blocks() bool { return !c.Passed() && c.Release == nil }

// End lets the lot be shipped after all, on the word of another person than who weighed.
func (c NetCheck) End(releaser, reason string, now time.Time) (NetCheck, error) {
	switch {
	case c.Passed():
		return c, &stock.StateError{Resource: NetCheckName(c.ID), Called: "this net content check", State: "PASSED", Action: "released: it holds nothing"}
	case c.Release != nil:
		return c, &stock.StateError{Resource: NetCheckName(c.ID), Called: "this net content check", State: "RELEASED", Action: "released again"}
	case releaser == c.Checker:
		return c, &CheckerError{Checker: c.Checker}
	}
	c.Release = &stock.Release{Releaser: releaser, Reason: reason, Time: now}
	return c, nil
}

// CheckerError means that who weighed the jars tried to release them.
type CheckerError struct{ Checker string }

// Error names who weighed.
func (e *CheckerError) Error() string {
	return fmt.Sprintf("%s recorded this check: another person must release the lot", e.Checker)
}

// Reason is the wire reason.
func (e *CheckerError) Reason() string { return "SAME_PERSON" }

// Metadata names who weighed.
func (e *CheckerError) Metadata() map[string]string { return map[string]string{"first": e.Checker} }

// ShortWeightError means that a lot failed its net content check and nobody released it.
type ShortWeightError struct {
	Run   Run
	Check NetCheck
}

// Error says which check and what to do.
func (e *ShortWeightError) Error() string {
	return fmt.Sprintf("lot %s failed the net content check of %s and cannot be shipped until someone other than %s releases it",
		e.Run.Code, e.Check.Time.UTC().Format("2006-01-02 15:04 UTC"), e.Check.Checker)
}

// Reason is the wire reason.
func (e *ShortWeightError) Reason() string { return "ON_HOLD" }

// Metadata names the check.
func (e *ShortWeightError) Metadata() map[string]string {
	return map[string]string{"hold": NetCheckName(e.Check.ID), "code": "NET_CONTENT"}
}
