package pool

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// Vote is what one director decided about a run.
type Vote struct {
	Director  string
	Abstained bool
	Minutes   string
	Time      time.Time
}

// Run is one stored calculation.
type Run struct {
	ID     uuid.UUID
	Place  int64
	Number string
	Pool   uuid.UUID
	// Fingerprint is the Digest of the inputs with all barrels.
	Fingerprint string
	// Inputs is a Head and Outcome a Summary. The barrels and members of a run are kept beside it, one row each: there may be
	// a million.
	Inputs  []byte
	Outcome []byte
	// Version is that of the inputs when they were read, known only while a run is made.
	Version     int64
	Preparer    string
	PrepareTime time.Time
	Votes       []Vote
	Releaser    string
	ReleaseTime *time.Time
}

// Name is "runs/{uuid}".
func (r *Run) Name() string { return "runs/" + r.ID.String() }

// Released reports whether the money is released.
func (r *Run) Released() bool { return r.Releaser != "" }

// Approver is the first director who approved, or "".
func (r *Run) Approver() string {
	for _, v := range r.Votes {
		if !v.Abstained {
			return v.Director
		}
	}
	return ""
}

// MayApprove holds the rules of the board's approval: another person than the preparer, without honey in it, of exactly
// this calculation, which nothing has overtaken. interested is true of a director whose own honey is in the run, current is
// the fingerprint of the inputs as they are now. Errors: *domain.SamePersonError, *domain.StateError.
func (r *Run) MayApprove(director string, interested bool, fingerprint, current string) error {
	if director == r.Preparer {
		return &domain.SamePersonError{First: r.Preparer, Message: "the person who prepared a run cannot approve it"}
	}
	return r.mayDecide(interested, fingerprint, current)
}

// MayRelease holds the rules of the release: approved, by a third person. Errors: as for MayApprove.
func (r *Run) MayRelease(treasurer string, interested bool, fingerprint, current string) error {
	if treasurer == r.Preparer {
		return &domain.SamePersonError{First: r.Preparer, Message: "the person who prepared a run cannot release it"}
	}
	for _, v := range r.Votes {
		if v.Director == treasurer {
			return &domain.SamePersonError{First: treasurer, Message: "a person who voted on a run cannot release it"}
		}
	}
	if err := r.mayDecide(interested, fingerprint, current); err != nil {
		return err
	}
	if r.Approver() == "" {
		return r.forbids("PREPARED", fmt.Sprintf("run %s is not approved by the board yet", r.Number))
	}
	return nil
}

// MayAbstain refuses to add a vote to what is decided.
func (r *Run) MayAbstain() error {
	if r.Released() {
		return r.forbids("RELEASED", fmt.Sprintf("run %s is released and never changes again", r.Number))
	}
	return nil
}

func (r *Run) mayDecide(interested bool, fingerprint, current string) error {
	if err := r.MayAbstain(); err != nil {
		return err
	}
	switch {
	case fingerprint != r.Fingerprint:
		return r.forbids("OTHER_FINGERPRINT", fmt.Sprintf("run %s has the fingerprint %.8s… and not %.8s…; look at it again", r.Number, r.Fingerprint, fingerprint))
	case current != r.Fingerprint:
		return r.forbids("OUTDATED", fmt.Sprintf("an input has changed since run %s was calculated, so its approval counts no more; prepare a new run", r.Number))
	case interested:
		return r.forbids("INTERESTED", "your own honey is in this run; record an abstention and let another person decide")
	}
	return nil
}

func (r *Run) forbids(state, message string) error {
	return &domain.StateError{Resource: r.Name(), State: state, Message: message}
}

// Declared are the prices of the run.
func (r *Run) Declared(p *Account) (*domain.ClosedPool, error) {
	result, err := ReadSummary(r.Outcome)
	if err != nil {
		return nil, err
	}
	rows := make([]domain.PriceRow, len(result.Classes))
	for i, c := range result.Classes {
		rows[i] = domain.PriceRow{Variety: c.Variety, ColorClass: c.ColorClass, Grade: c.Grade, Advance: c.Price}
	}
	return domain.NewClosedPool(r.ID, r.Number, p.Title, rows), nil
}

// Paid sums finals by member while they are made, to be compared with what the run came to.
type Paid map[string]quantity.Money

// Add counts finals in.
func (p Paid) Add(finals []*domain.Payout) {
	for _, f := range finals {
		p[f.Barrel.Member] += f.Net
	}
}

// MustEqual compares the finals with the members' results of their run, which were reached another way. Errors:
// *domain.TotalError.
func (p Paid) MustEqual(members []MemberResult) error {
	for _, m := range members {
		if p[m.Member] != m.Due-m.Receivable {
			return &domain.TotalError{What: "the finals of " + m.Member, Want: m.Due - m.Receivable, Got: p[m.Member]}
		}
	}
	if len(p) != len(members) {
		return &domain.TotalError{What: "the number of members paid", Want: quantity.Money(len(members)), Got: quantity.Money(len(p))}
	}
	return nil
}

// Read gives the stored head and outcome.
func (r *Run) Read() (Head, *Summary, error) {
	head, err := ReadHead(r.Inputs)
	if err != nil {
		return head, nil, err
	}
	summary, err := ReadSummary(r.Outcome)
	return head, summary, err
}
