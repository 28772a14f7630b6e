package payment

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"barrelhead.example/services/settlement/internal/domain"
)

// Party is whose consent ends a right. The numbers are those of the wire and of the stored release.
type Party int

// The parties.
const (
	ByMember Party = iota + 1
	ByCreditor
)

// Release is one party's word that a right ends. It is never changed.
type Release struct {
	Party    Party
	Signer   string
	Signed   domain.Date
	Document string
	Recorder string
	Time     time.Time
}

// parties are those whose release ends a right: a lien is the creditor's to let go, while an assignment and a joint payment are
// papers of both, which only both can revoke (as in the forms CCC-36 and CCC-37, from memory). What the law demands ends by the
// authority's own paper, and an estate by its own.
func (k EncumbranceKind) parties() []Party {
	switch k {
	case Lien:
		return []Party{ByCreditor}
	case Assignment, JointPayee:
		return []Party{ByMember, ByCreditor}
	case Withholding, Levy, Heir:
	}
	return nil
}

// Missing are the parties whose release is still needed.
func (e *Encumbrance) Missing() []Party {
	return slices.DeleteFunc(e.Kind.parties(), func(p Party) bool {
		return slices.ContainsFunc(e.Releases, func(r Release) bool { return r.Party == p })
	})
}

// Release adds a party's word. Errors: *domain.StateError.
func (e *Encumbrance) Release(r Release) error {
	if err := e.mustStand(); err != nil {
		return err
	}
	if !slices.Contains(e.Kind.parties(), r.Party) {
		return &domain.StateError{
			Resource: e.Name(), State: "NOT_RELEASABLE", Message: fmt.Sprintf("no release of the %s ends %s; it is ended by its own paper", r.Party.word(), e.what()),
		}
	}
	for _, before := range e.Releases {
		if before.Party == r.Party {
			return &domain.StateError{
				Resource: e.Name(), State: "RELEASED", Message: fmt.Sprintf("%s is recorded already: signed by %s on %s, %s", e.releaseWords(r.Party), before.Signer, before.Signed, before.Document),
			}
		}
	}
	e.Releases = append(e.Releases, r)
	return nil
}

// Validate lists everything wrong with a release of a notice received on a day.
func (r Release) Validate(received, today domain.Date) []domain.FieldFault {
	var faults []domain.FieldFault
	add := func(path, format string, args ...any) {
		faults = append(faults, domain.FieldFault{Path: path, Message: fmt.Sprintf(format, args...)})
	}
	if strings.TrimSpace(r.Signer) == "" {
		add("signer", "is missing; say who signed the release")
	}
	if n := len([]rune(strings.TrimSpace(r.Document))); n < 3 {
		add("document", "has %d characters; name the paper in 3 to 120", n)
	}
	if r.Signed < received {
		add("sign_date", "is %s, before the notice was received on %s", r.Signed, received)
	}
	if r.Signed > today {
		add("sign_date", "is %s, after today, %s", r.Signed, today)
	}
	return faults
}

// what names a right, for a reader.
func (e *Encumbrance) what() string { return "the " + e.Kind.Words() + " of " + e.Creditor }

func (e *Encumbrance) releaseWords(p Party) string {
	if p == ByMember {
		return "the release of the member"
	}
	return "the release of " + e.Creditor
}

func (p Party) word() string {
	if p == ByMember {
		return "member"
	}
	return "creditor"
}
