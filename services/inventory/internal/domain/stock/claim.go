package stock

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// Outcome is what a test says of a claim.
type Outcome string

// The outcomes.
const (
	Supports    Outcome = "SUPPORTS"
	Contradicts Outcome = "CONTRADICTS"
)

// Claim is something said of the honey of a delivered barrel that a buyer may pay for. What was declared, tested and approved are
// kept apart: none is concluded from another. Nil is none yet; of tests and approvals the latest counts.
type Claim struct {
	Name     string
	Declared *Declared
	Tested   *ClaimTest
	Approved *ClaimApproval
}

// Declared is what the member said at the dock.
type Declared struct {
	Evidence string
	Ticket   uuid.UUID
}

// ClaimTest is one test.
type ClaimTest struct {
	ID uuid.UUID
	// Barrel is the one that was delivered.
	Barrel                   uuid.UUID
	Claim                    string
	Outcome                  Outcome
	Report, Method, Recorder string
	Time                     time.Time
}

// Name is the resource name.
func (t ClaimTest) Name() string { return "claimTests/" + t.ID.String() }

// ClaimApproval lets blends and labels rest on a claim. It is of one ticket: what another member declared after a reissue was not
// looked at.
type ClaimApproval struct {
	ID uuid.UUID
	// Barrel is the one that was delivered.
	Barrel             uuid.UUID
	Claim              string
	Evidence, Approver string
	Ticket             uuid.UUID
	Time               time.Time
	Withdrawn          *Withdrawal
}

// Withdrawal ends an approval.
type Withdrawal struct {
	Withdrawer, Reason string
	Time               time.Time
}

// Name is the resource name.
func (a ClaimApproval) Name() string { return "claimApprovals/" + a.ID.String() }

// ClaimName is a claim as it is compared: in lower case, with single spaces and none around it.
func ClaimName(typed string) string { return strings.ToLower(strings.Join(strings.Fields(typed), " ")) }

// Stands reports whether blends and labels may rest on it.
func (c Claim) Stands() bool {
	return c.Declared != nil && c.Approved != nil && c.Approved.Withdrawn == nil && c.Approved.Ticket == c.Declared.Ticket
}

// Claim finds what is claimed under a name; nothing was said of one that is not there.
func (i Item) Claim(name string) Claim {
	if n := slices.IndexFunc(i.Claims, func(c Claim) bool { return c.Name == name }); n >= 0 {
		return i.Claims[n]
	}
	return Claim{Name: name}
}

// ApproveClaim is the approval of a claim by a person other than who recorded what the latest test says.
func (i Item) ApproveClaim(name, evidence, approver string, now time.Time) (ClaimApproval, error) {
	c := i.Claim(name)
	forbid := func(state, action string) error {
		return i.forbids(state, fmt.Sprintf("approved as %s%s", name, action))
	}
	switch {
	case c.Declared == nil:
		return ClaimApproval{}, forbid("NOT_DECLARED", ": its ticket does not declare it")
	case c.Tested != nil && c.Tested.Outcome == Contradicts:
		return ClaimApproval{}, forbid("CONTRADICTED", ": test report "+c.Tested.Report+" contradicts it")
	case c.Stands():
		return ClaimApproval{}, forbid("APPROVED", " again")
	case c.Tested != nil && c.Tested.Recorder == approver:
		return ClaimApproval{}, &TesterError{Tester: approver}
	}
	return ClaimApproval{Barrel: i.Root, Claim: name, Evidence: evidence, Approver: approver, Ticket: c.Declared.Ticket, Time: now}, nil
}

// WithdrawClaim ends the approval of a claim.
func (i Item) WithdrawClaim(name string, by Withdrawal) (ClaimApproval, error) {
	c := i.Claim(name)
	if c.Approved == nil || c.Approved.Withdrawn != nil {
		return ClaimApproval{}, i.forbids("NOT_APPROVED", "withdrawn: nobody approved it as "+name)
	}
	out := *c.Approved
	out.Withdrawn = &by
	return out, nil
}

// Certified fails with an *UnprovedError unless every claim stands for every barrel. charge and label name what is asked for, called is
// what people call the charge.
func Certified(charge, called, label string, claims []string, barrels []Item) error {
	for _, name := range claims {
		e := UnprovedError{Charge: charge, Called: called, Label: label, Claim: name, Of: len(barrels)}
		for _, b := range barrels {
			if !b.Claim(name).Stands() {
				e.Missing = append(e.Missing, b.DrumTag)
			}
		}
		if len(e.Missing) > 0 {
			slices.Sort(e.Missing)
			return &e
		}
	}
	return nil
}

// UnprovedError means that a certified claim of a label does not stand for every barrel it would be said of.
type UnprovedError struct {
	// Charge is the resource name, Called what people call it.
	Charge, Called, Label, Claim string
	// Missing are tags of drums, sorted.
	Missing []string
	Of      int
}

// mostNamed keeps the sentence readable.
const mostNamed = 5

// Error names the first barrels in the way.
func (e *UnprovedError) Error() string {
	named, more := e.Missing[:min(mostNamed, len(e.Missing))], ""
	if rest := len(e.Missing) - len(named); rest > 0 {
		more = fmt.Sprintf(" and %s more", quantity.Whole(int64(rest)))
	}
	return fmt.Sprintf("%s may not be packed as %s: %q stands approved for %s of %s in it, not for %s%s; "+
		"approve it with evidence on file or choose another label",
		cmp.Or(e.Called, e.Charge), e.Label, e.Claim, quantity.Whole(int64(e.Of-len(e.Missing))), quantity.Count(int64(e.Of), "barrel"), strings.Join(named, ", "), more)
}

// Reason is the wire reason.
func (e *UnprovedError) Reason() string { return "STATE_FORBIDS" }

// Metadata counts barrels.
func (e *UnprovedError) Metadata() map[string]string {
	return map[string]string{
		"resource": e.Charge, "state": "BREACH", "limit": "CERTIFIED_CLAIM", "claim": e.Claim, "value": fmt.Sprint(e.Of - len(e.Missing)), "allowed": fmt.Sprint(e.Of),
	}
}

// TesterError means that who recorded a test tried to approve the claim.
type TesterError struct{ Tester string }

// Error names who recorded it.
func (e *TesterError) Error() string {
	return e.Tester + " recorded the test of this claim: another person must approve it"
}

// Reason is the wire reason.
func (e *TesterError) Reason() string { return "SAME_PERSON" }

// Metadata names who recorded it.
func (e *TesterError) Metadata() map[string]string { return map[string]string{"first": e.Tester} }
