package pool

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// Account is a pool with the sums of its entries.
type Account struct {
	ID        uuid.UUID
	Number    int64
	CropYear  int
	Title     string
	Varieties []string
	Classes   []Class
	Opener    string
	OpenTime  time.Time
	// ClosingRun is the zero UUID while the pool is open.
	ClosingRun uuid.UUID
	Proceeds   quantity.Money
	// Expenses is positive.
	Expenses quantity.Money
}

// Key is where a page of pools begins: after this crop year and number. The zero key is the first page.
type Key struct {
	CropYear int
	Number   int64
}

// Name is "pools/{uuid}".
func (a *Account) Name() string { return "pools/" + a.ID.String() }

// Closed reports whether a run was released.
func (a *Account) Closed() bool { return a.ClosingRun != uuid.UUID{} }

// MustBeOpen refuses whatever would change a closed pool.
func (a *Account) MustBeOpen() error {
	if !a.Closed() {
		return nil
	}
	return &domain.StateError{
		Resource: a.Name(), State: "CLOSED",
		Message: fmt.Sprintf("pool %q is closed and never changes again; enter it in the pool of the present crop year", a.Title),
	}
}

// Scope is which honey the pool takes, beside the other open pools of its crop year. What a closed pool took has its final;
// what came too late for it is open to the next.
func (a *Account) Scope(all []*Account) domain.Scope {
	s := domain.Scope{Pool: a.ID, CropYear: a.CropYear, Varieties: a.Varieties}
	for _, other := range all {
		if other.ID != a.ID && !other.Closed() {
			s.Elsewhere = append(s.Elsewhere, other.Varieties...)
		}
	}
	return s
}

// Validate lists everything wrong with a new pool at once.
func (a *Account) Validate() []domain.FieldFault {
	var faults []domain.FieldFault
	add := func(path, format string, args ...any) {
		faults = append(faults, domain.FieldFault{Path: path, Message: fmt.Sprintf(format, args...)})
	}
	if a.CropYear < 2000 || a.CropYear > 2100 {
		add("crop_year", "is %d; it must be from 2000 to 2100", a.CropYear)
	}
	if n := len([]rune(strings.TrimSpace(a.Title))); n < 1 || n > 80 {
		add("title", "has %d characters; it needs 1 to 80", n)
	}
	for i, v := range a.Varieties {
		if v == "" || strings.ToLower(v) != v || slices.Index(a.Varieties, v) != i {
			add(fmt.Sprintf("varieties[%d]", i), "is %.40q; name each source once, in lower case", v)
		}
	}
	rows := make([]domain.PriceRow, len(a.Classes))
	for i, c := range a.Classes {
		if c.Differential%declaredStep != 0 || c.Differential < -1_000_000_000 || c.Differential > 1_000_000_000 {
			add(fmt.Sprintf("differentials[%d].amount", i), "is %v; it must have at most five digits after the point and be within 1000", c.Differential)
		}
		rows[i] = domain.PriceRow{Variety: c.Variety, ColorClass: c.ColorClass, Grade: c.Grade}
	}
	for _, f := range domain.ValidateRows(rows) {
		f.Path = strings.Replace(f.Path, "rows", "differentials", 1)
		f.Message = strings.ReplaceAll(f.Message, "rows[", "differentials[")
		faults = append(faults, f)
	}
	return faults
}

// Beside refuses a pool that takes what another open one of the crop year takes.
func (a *Account) Beside(others []*Account) error {
	for _, o := range others {
		if o.Closed() {
			continue
		}
		both := len(a.Varieties) == 0 && len(o.Varieties) == 0
		for _, v := range a.Varieties {
			both = both || slices.Contains(o.Varieties, v)
		}
		if both {
			return &OverlapError{Pool: o.Name(), Title: o.Title}
		}
	}
	return nil
}

// OverlapError means that another pool of the crop year takes the same honey.
type OverlapError struct{ Pool, Title string }

func (e *OverlapError) Error() string {
	return fmt.Sprintf("pool %q of this crop year takes the same honey; name other sources", e.Title)
}

// Reason is the wire reason.
func (e *OverlapError) Reason() string { return "ALREADY_EXISTS" }

// Metadata names the other pool.
func (e *OverlapError) Metadata() map[string]string { return map[string]string{"resource": e.Pool} }

// EntryKind is the side of an entry. The numbers are those of the wire and of the stored entry.
type EntryKind int

// The two sides.
const (
	Proceeds EntryKind = iota + 1
	Expense
)

// Record is one amount on a pool's account.
type Record struct {
	ID          uuid.UUID
	Number      int64
	Pool        uuid.UUID
	Kind        EntryKind
	Amount      quantity.Money
	Description string
	Document    string
	Date        domain.Date
	Recorder    string
	RecordTime  time.Time
	// Counter is the other pool of unsold honey that was carried over; the zero UUID otherwise.
	Counter uuid.UUID
	// Sale is the sale of the warehouse it was booked from, and SalePlace the part of it; the zero UUID and 0 otherwise.
	Sale      uuid.UUID
	SalePlace int
}

// CarryOver sells unsold honey to another pool: the same amount on both accounts. Errors: *domain.StateError.
func (e *Record) CarryOver(from, to *Account) (sold, bought *Record, err error) {
	for _, p := range []*Account{from, to} {
		if err := p.MustBeOpen(); err != nil {
			return nil, nil, err
		}
	}
	if from.ID == to.ID {
		return nil, nil, &domain.StateError{Resource: from.Name(), State: "SAME_POOL", Message: "a pool cannot sell its honey to itself; name the pool that takes it over"}
	}
	s, b := *e, *e
	s.Pool, s.Kind, s.Counter = from.ID, Proceeds, to.ID
	b.Pool, b.Kind, b.Counter = to.ID, Expense, from.ID
	s.Description = fmt.Sprintf("Carried over to %s: %s", to.Title, e.Description)
	b.Description = fmt.Sprintf("Carried over from %s: %s", from.Title, e.Description)
	return &s, &b, nil
}

// Name is "poolEntries/{uuid}".
func (e *Record) Name() string { return "poolEntries/" + e.ID.String() }

// Signed is what the entry adds to what there is to distribute.
func (e *Record) Signed() quantity.Money {
	if e.Kind == Expense {
		return -e.Amount
	}
	return e.Amount
}

// Validate lists everything wrong with an entry at once.
func (e *Record) Validate() []domain.FieldFault {
	var faults []domain.FieldFault
	add := func(path, message string) { faults = append(faults, domain.FieldFault{Path: path, Message: message}) }
	if e.Kind != Proceeds && e.Kind != Expense {
		add("kind", "is missing; say proceeds or expense")
	}
	if e.Amount == 0 {
		add("amount", "is 0.00; an entry has an amount")
	}
	if n := len([]rune(strings.TrimSpace(e.Description))); n < 3 || n > 200 {
		add("description", fmt.Sprintf("has %d characters; it needs 3 to 200", n))
	}
	if n := len([]rune(strings.TrimSpace(e.Document))); n < 1 || n > 120 {
		add("document", fmt.Sprintf("has %d characters; name the paper in 1 to 120", n))
	}
	return faults
}
