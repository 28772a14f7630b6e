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
	ID          uuid.UUID
	Place       int64
	Number      string
	Pool        uuid.UUID
	Fingerprint string
	Inputs      []byte
	Outcome     []byte
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

// Harvested is one owner's part of a barrel that has an advance.
type Harvested struct {
	// Share is the owner's, in ten-thousandths of a percent.
	Share int64

	Barrel     uuid.UUID
	Advance    uuid.UUID
	Member     string
	Variety    string
	ColorClass string
	Grade      string
	Payable    quantity.Mass
	Step       quantity.Money
	Credited   quantity.Money
}

// with adds an owner's part.
func (b *Barrel) with(h Harvested) {
	b.Payable, b.Step = b.Payable+h.Payable, b.Step+h.Step
	b.Owners = append(b.Owners, Owner{Member: h.Member, Weight: h.Share, Credited: h.Credited, Advance: h.Advance})
}

// Gather makes the input of a pool's closing from everything known now. The owners of a barrel follow one another in
// harvest. A barrel without a differential is a
// *domain.StateError.
func Gather(a *Account, scope domain.Scope, entries []*Record, harvest []Harvested, waiting map[string]int) (Input, error) {
	in := Input{Pool: a.ID, Classes: a.Classes}
	rows := make([]domain.PriceRow, len(a.Classes))
	for i, c := range a.Classes {
		rows[i] = domain.PriceRow{Variety: c.Variety, ColorClass: c.ColorClass, Grade: c.Grade}
	}
	table := domain.Compile(&domain.Schedule{Rows: rows})
	for _, h := range harvest {
		if !scope.Takes(a.CropYear, h.Variety) {
			continue
		}
		class := table.Row(h.Variety, h.ColorClass, h.Grade)
		if class < 0 {
			return in, in.forbids("NO_DIFFERENTIAL", fmt.Sprintf("the pool has no differential for %s, %s, grade %s; barrels/%s has it",
				h.Variety, h.ColorClass, h.Grade, h.Barrel))
		}
		if last := len(in.Barrels) - 1; last >= 0 && in.Barrels[last].Barrel == h.Barrel {
			in.Barrels[last].with(h)
			continue
		}
		b := Barrel{Barrel: h.Barrel, Advance: h.Advance, Class: class}
		if h.Share == domain.WholeShare {
			b.Payable, b.Step, b.Owners = h.Payable, h.Step, []Owner{{Member: h.Member, Weight: 1, Credited: h.Credited}}
		} else {
			b.with(h)
		}
		in.Barrels = append(in.Barrels, b)
	}
	for _, e := range entries {
		in.Entries = append(in.Entries, Entry{Entry: e.ID, Amount: e.Signed()})
	}
	for variety, n := range waiting {
		if scope.Takes(a.CropYear, variety) {
			in.LeftOut += n
		}
	}
	return in, nil
}

// MayApprove holds the rules of the board's approval: another person than the preparer, without honey in it, of exactly
// this calculation, which nothing has overtaken. current is the fingerprint of the inputs as they are now.
func (r *Run) MayApprove(director, member, fingerprint, current string) error {
	if director == r.Preparer {
		return &domain.SamePersonError{First: r.Preparer, Message: "the person who prepared a run cannot approve it"}
	}
	return r.mayDecide(member, fingerprint, current)
}

// MayRelease holds the rules of the release: approved, by a third person.
func (r *Run) MayRelease(treasurer, member, fingerprint, current string) error {
	if treasurer == r.Preparer {
		return &domain.SamePersonError{First: r.Preparer, Message: "the person who prepared a run cannot release it"}
	}
	for _, v := range r.Votes {
		if v.Director == treasurer {
			return &domain.SamePersonError{First: treasurer, Message: "a person who voted on a run cannot release it"}
		}
	}
	if err := r.mayDecide(member, fingerprint, current); err != nil {
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

func (r *Run) mayDecide(member, fingerprint, current string) error {
	if err := r.MayAbstain(); err != nil {
		return err
	}
	switch {
	case fingerprint != r.Fingerprint:
		return r.forbids("OTHER_FINGERPRINT", fmt.Sprintf("run %s has the fingerprint %.8s… and not %.8s…; look at it again", r.Number, r.Fingerprint, fingerprint))
	case current != r.Fingerprint:
		return r.forbids("OUTDATED", fmt.Sprintf("an input has changed since run %s was calculated, so its approval counts no more; prepare a new run", r.Number))
	}
	result, err := ReadResult(r.Outcome)
	if err != nil {
		return err
	}
	for _, m := range result.Members {
		if m.Member == member {
			return r.forbids("INTERESTED", "your own honey is in this run; record an abstention and let another person decide")
		}
	}
	return nil
}

func (r *Run) forbids(state, message string) error {
	return &domain.StateError{Resource: r.Name(), State: state, Message: message}
}

// Declared are the prices of the run.
func (r *Run) Declared(p *Account) (*domain.ClosedPool, error) {
	result, err := ReadResult(r.Outcome)
	if err != nil {
		return nil, err
	}
	rows := make([]domain.PriceRow, len(result.Classes))
	for i, c := range result.Classes {
		rows[i] = domain.PriceRow{Variety: c.Variety, ColorClass: c.ColorClass, Grade: c.Grade, Advance: c.Price}
	}
	return domain.NewClosedPool(r.ID, r.Number, p.Title, rows), nil
}

// MustEqual compares the finals of a run with its own totals: what members get for honey, and what each is due.
func (r *Run) MustEqual(finals []*domain.Payout) error {
	result, err := ReadResult(r.Outcome)
	if err != nil {
		return err
	}
	due := map[string]quantity.Money{}
	for _, f := range finals {
		due[f.Barrel.Member] += f.Net
	}
	for _, m := range result.Members {
		if due[m.Member] != m.Due-m.Receivable {
			return &domain.TotalError{What: "the finals of " + m.Member, Want: m.Due - m.Receivable, Got: due[m.Member]}
		}
	}
	if len(due) != len(result.Members) {
		return &domain.TotalError{What: "the members of run " + r.Number, Want: quantity.Money(len(result.Members)), Got: quantity.Money(len(due))}
	}
	return nil
}

// Read gives the stored inputs and outcome.
func (r *Run) Read() (Input, *Result, error) {
	in, err := ReadInput(r.Inputs)
	if err != nil {
		return in, nil, err
	}
	result, err := ReadResult(r.Outcome)
	return in, result, err
}
