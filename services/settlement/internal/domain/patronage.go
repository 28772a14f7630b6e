package domain

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// qualifiedCash is the least part in money of a qualified notice (26 USC 1388(c)(1): 20 per centum or more).
const qualifiedCash = quantity.Percent(20_00)

// Designation is the board's word on what certificates a crop year's retains stand on.
type Designation struct {
	CropYear   int
	Qualified  bool
	Consent    string
	Resolution string
	Declarer   string
	Time       time.Time
}

// Refund is a year's net earnings shared among the members by the value of their honey.
type Refund struct {
	ID       uuid.UUID
	Place    int64
	CropYear int
	// FiscalEnd is the last day of the fiscal year.
	FiscalEnd   Date
	Total       quantity.Money
	CashPercent quantity.Percent
	Qualified   bool
	Consent     string
	Resolution  string
	Declarer    string
	Time        time.Time
	Date        Date
	Parts       []RefundPart
}

// RefundPart is one member's share.
type RefundPart struct {
	Member string
	Cash   quantity.Money
	Notice quantity.Money
	// Odd is true where the share got an odd cent.
	Odd bool
}

// Name is "patronageRefunds/{uuid}".
func (r *Refund) Name() string { return "patronageRefunds/" + r.ID.String() }

// Class of the notices.
func (r *Refund) Class() EquityClass {
	if r.Qualified {
		return PatronageQualified
	}
	return PatronageNonqualified
}

// PeriodEnd is the 15th day of the ninth month after the fiscal year (26 USC 1382(d), from memory; the same date for the
// cooperative's return is read in 26 USC 6072(d)). Errors: a date that cannot be read.
func (r *Refund) PeriodEnd() (Date, error) {
	end, err := time.Parse(time.DateOnly, string(r.FiscalEnd))
	if err != nil {
		return "", fmt.Errorf("read the end of the fiscal year: %w", err)
	}
	first := time.Date(end.Year(), end.Month(), 1, 0, 0, 0, 0, time.UTC)
	return Date(first.AddDate(0, 9, 14).Format(time.DateOnly)), nil
}

// Validate lists everything wrong with a new refund at once.
func (r *Refund) Validate() []FieldFault {
	var faults []FieldFault
	add := func(path, format string, args ...any) {
		faults = append(faults, FieldFault{Path: path, Message: fmt.Sprintf(format, args...)})
	}
	if r.Total <= 0 {
		add("total", "is %v; it must be above 0.00", r.Total)
	}
	if r.CashPercent < 0 || r.CashPercent > 100_00 {
		add("cash_percent", "is %v; it must be 0 to 100", r.CashPercent)
	}
	if r.Qualified && r.CashPercent < qualifiedCash {
		add("cash_percent", "is %v; a qualified notice needs at least %v in money (26 USC 1388(c)(1))", r.CashPercent, qualifiedCash)
	}
	if r.Qualified && strings.TrimSpace(r.Consent) == "" {
		add("consent", "is missing; qualified notices need the members' consent (26 USC 1388(c)(2))")
	}
	if r.Date != "" && r.FiscalEnd > r.Date {
		add("fiscal_year_end", "is %s, after today, %s; earnings are shared when the year is over", r.FiscalEnd, r.Date)
	}
	return faults
}

// Patron is what one member's honey was worth in the year.
type Patron struct {
	Member string
	Value  quantity.Money
}

// Share divides the total by value, by largest remainder; each share's part in money is rounded up to the cent. A member whose
// honey came to nothing or less gets nothing. Errors: *StateError where nobody gets anything.
func (r *Refund) Share(patrons []Patron) error {
	due := slices.DeleteFunc(slices.Clone(patrons), func(p Patron) bool { return p.Value <= 0 })
	slices.SortFunc(due, func(a, b Patron) int { return strings.Compare(a.Member, b.Member) })
	weights := make([]int64, len(due))
	for i, p := range due {
		weights[i] = int64(p.Value)
	}
	if len(due) == 0 {
		return &StateError{Resource: "patronage", State: "NO_PATRONAGE", Message: fmt.Sprintf("no member's honey of crop year %d has been credited", r.CropYear)}
	}
	portions, err := quantity.Portions(r.Total, weights)
	if err != nil {
		return fmt.Errorf("share the earnings of %d: %w", r.CropYear, err)
	}
	r.Parts = nil
	for i, p := range portions {
		if p.Amount == 0 {
			continue
		}
		cash := (int64(p.Amount)*int64(r.CashPercent) + 100_00 - 1) / 100_00
		r.Parts = append(r.Parts, RefundPart{Member: due[i].Member, Cash: quantity.Money(cash), Notice: p.Amount - quantity.Money(cash), Odd: p.Odd})
	}
	return nil
}
