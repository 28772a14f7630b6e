package domain

import (
	"fmt"
	"strconv"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// State is where a receiving ticket stands.
type State string

// OPEN → CLOSED → VOIDED or SUPERSEDED; OPEN → CANCELLED. Nothing leads back.
const (
	Open       State = "OPEN"
	Closed     State = "CLOSED"
	Voided     State = "VOIDED"
	Superseded State = "SUPERSEDED"
	Cancelled  State = "CANCELLED"
)

// Ticket is the receiving ticket of one delivery.
type Ticket struct {
	ID     uuid.UUID
	Number Number
	State  State
	// Member is the owner's number, "M-0001".
	Member     string
	MemberName string
	// Owners are empty when Member owns all of it.
	Owners   Owners
	CropYear int
	Hauler   string
	// Vehicle, YardRegion, Claims and Remarks are what was said of the delivery when it was opened.
	Vehicle    string
	YardRegion string
	Claims     []Claim
	Remarks    string
	// Driver signed for it when it was closed, or is empty.
	Driver          string
	HarvestDeclared bool
	// LateDeclareTime is when the declaration came after all; zero if with the ticket or not yet.
	LateDeclareTime time.Time
	Barrels         []Barrel
	// Rejects is how many barrels were brought with it but not taken in, as far as closing needs to know.
	Rejects      int
	BarrelCount  int
	NetTotal     quantity.Mass
	Supersedes   uuid.UUID
	SupersededBy uuid.UUID
	Void         *Void
	Weigher      string
	OpenTime     time.Time
	// RecordTime is when the ticket reached the service.
	RecordTime   time.Time
	CloseTime    time.Time
	DeliveryDate string
	Version      int64
}

// Claim is what a member claims of its honey, with the certificate it rests on.
type Claim struct{ Text, Certificate string }

// Transition is who moved a ticket to another state, when and why.
type Transition struct {
	Actor  string
	Reason string
	Time   time.Time
}

// Void is the request to withdraw a closed ticket, and its approval.
type Void struct {
	Reason      string
	Requester   string
	RequestTime time.Time
	// ReissueMember is the number of the rightful owner, or empty.
	ReissueMember string
	// ReissueOwners are its owners to be, empty when ReissueMember owns all of it.
	ReissueOwners Owners
	Approver      string
	ApproveTime   time.Time
}

// Name is the resource name.
func (t Ticket) Name() string { return "tickets/" + t.ID.String() }

// ETag changes with every change.
func (t Ticket) ETag() string { return strconv.FormatInt(t.Version, 10) }

// Matches refuses a change by somebody who read an older version; an empty etag is not compared.
func (t Ticket) Matches(etag string) error {
	if etag == "" || etag == t.ETag() {
		return nil
	}
	return &Refusal{
		reason: "ETAG_MISMATCH", message: fmt.Sprintf("ticket %s was changed by someone else: read it again and repeat the change", t.Number),
		metadata: map[string]string{"resource": t.Name(), "etag": t.ETag()},
	}
}

// Number is a printed ticket number: gap-free for each site and year.
type Number struct {
	Site    string
	Year    int
	Ordinal int64
}

// String is e.g. "FC-2026-000731".
func (n Number) String() string { return fmt.Sprintf("%s-%d-%06d", n.Site, n.Year, n.Ordinal) }

// Barrel is one filling of a drum.
type Barrel struct {
	ID       uuid.UUID
	Ticket   uuid.UUID
	Line     int
	Member   string
	DrumTag  string
	Variety  string
	CropYear int
	Weighing
	Scale string
	// Capture is the weight taken from the scale it rests on; uuid.Nil without one.
	Capture uuid.UUID
	// Container is what the drum was when it was weighed, empty when nobody knew.
	Container Container
	// CheckOrdinal is the number of checks its scale had seen when the barrel stood on it.
	CheckOrdinal int64
	// KnownChecks is how many checks the scale had seen when the barrel was decided on.
	KnownChecks int64
	Warnings    []string
	Sample      string
	// Seals are those put on its portions when the sample was drawn.
	Seals     []Seal
	DrawTime  time.Time
	Weigher   string
	WeighTime time.Time
	// PaperConfirmer compared the entry with the paper book at PaperTime; empty before.
	PaperConfirmer string
	PaperTime      time.Time
	// RecordTime is when the barrel reached the service.
	RecordTime time.Time
	// Open is true until the drum was emptied or the barrel stopped counting.
	Open bool
}

// Name is the resource name.
func (b Barrel) Name() string { return "barrels/" + b.ID.String() }

func (t Ticket) stateForbids(format string, args ...any) *Refusal {
	return stateForbids(t.Name(), string(t.State), format, args...)
}

// MayChange refuses anything that is for open tickets only.
func (t Ticket) MayChange() error {
	if t.State == Open {
		return nil
	}
	if t.State == Closed {
		return t.stateForbids("ticket %s is closed and never changes: open a new ticket, or ask the office to void this one", t.Number)
	}
	return t.stateForbids("ticket %s is %s and never changes: open a new ticket", t.Number, t.State.words())
}

func (s State) words() string {
	return map[State]string{
		Open: "open", Closed: "closed", Voided: "void", Superseded: "replaced by another ticket", Cancelled: "cancelled",
	}[s]
}

// Closing is what is said at the end of a delivery.
type Closing struct {
	// Counted is what clerk and driver counted.
	Counted int
	// ETag is empty when nobody read the ticket before.
	ETag string
	// Driver signed for it, or is empty.
	Driver string
}

// MayClose refuses to end a delivery that is not complete. counted is what clerk and driver counted together.
func (t Ticket) MayClose(counted int) error {
	if err := t.MayChange(); err != nil {
		return err
	}
	if len(t.Barrels) == 0 && t.Rejects == 0 {
		return t.stateForbids("ticket %s has no barrels: weigh one, or cancel the ticket", t.Number)
	}
	if counted != len(t.Barrels) {
		r := t.stateForbids("%s barrels were counted with the driver, but %s are on ticket %s: count again, then weigh what is "+
			"missing or cancel and start over", quantity.Whole(int64(counted)), quantity.Whole(int64(len(t.Barrels))), t.Number)
		r.field = "barrel_count"
		r.metadata["counted"], r.metadata["weighed"] = strconv.Itoa(counted), strconv.Itoa(len(t.Barrels))
		return r
	}
	if err := t.paperConfirmed(); err != nil {
		return err
	}
	return t.allSampled()
}

func (t Ticket) allSampled() error {
	missing, first := 0, ""
	for _, b := range t.Barrels {
		if b.Sample == "" {
			missing++
			if first == "" {
				first = b.DrumTag
			}
		}
	}
	if missing == 0 {
		return nil
	}
	r := t.stateForbids("%s of %s barrels done, %s without a sample (first: drum %s): draw the samples, then close",
		quantity.Whole(int64(len(t.Barrels)-missing)), quantity.Whole(int64(len(t.Barrels))), quantity.Whole(int64(missing)), first)
	r.metadata["unsampled"] = strconv.Itoa(missing)
	return r
}

// MayDrawSample refuses a second sample and one from a delivery that is over.
func (t Ticket) MayDrawSample(b Barrel) error {
	if b.Sample != "" {
		return stateForbids(b.Name(), "SAMPLED", "drum %s has its sample already (%s)", b.DrumTag, b.Sample)
	}
	return t.MayChange()
}

// Total is the sum of the net weights; it is never rounded again.
func (t Ticket) Total() (quantity.Mass, error) {
	nets := make([]quantity.Mass, 0, len(t.Barrels))
	for _, b := range t.Barrels {
		nets = append(nets, b.Net())
	}
	return quantity.Sum(nets...)
}

// Check is the invariant of a stored ticket: its total is that of its lines.
func (t Ticket) Check() error {
	total, err := t.Total()
	if err != nil {
		return err
	}
	if total != t.NetTotal || len(t.Barrels) != t.BarrelCount {
		return fmt.Errorf("ticket %s says %d barrels of %s, its lines say %d of %s", t.Number, t.BarrelCount, t.NetTotal,
			len(t.Barrels), total)
	}
	return t.Owners.Check()
}

// TicketFilter selects a page of tickets, newest number first.
type TicketFilter struct {
	// Member and State are empty for all.
	Member string
	State  State
	// Before is the last number of the page before; the zero Number begins at the newest.
	Before Number
	Limit  int
}
