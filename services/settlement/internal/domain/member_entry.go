package domain

import (
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// EntryKind is what an entry on a member's account is. The numbers are those of the stored entry; those of charges also those
// of the wire.
type EntryKind int

// The kinds.
const (
	CorrectionCharge EntryKind = iota + 1
	HaulingCharge
	CheckOffCharge
	ContainerCharge
	ServiceCharge
	LoanDeduction
	OverAdvanceLent
	PatronageCash
)

// chargeCodes name charges in the books.
var chargeCodes = map[EntryKind]string{
	CorrectionCharge: "CORRECTION", HaulingCharge: "HAULING", CheckOffCharge: "CHECK_OFF", ContainerCharge: "CONTAINER", ServiceCharge: "SERVICE",
}

// Code is how the books name a charge; empty for another kind.
func (k EntryKind) Code() string { return chargeCodes[k] }

// MemberEntry is one amount on a member's account beside payouts, redemptions and payments. It is never edited.
type MemberEntry struct {
	ID     uuid.UUID
	Place  int64
	Member string
	Kind   EntryKind
	// Amount is positive for what is owed to the member.
	Amount      quantity.Money
	Description string
	Authority   string
	Calculation string
	Date        Date
	// Ticket is the number of the ticket a hauling charge is for; empty otherwise.
	Ticket   string
	Recorder string
	Time     time.Time
}

// Name is "memberCharges/{uuid}".
func (e *MemberEntry) Name() string { return "memberCharges/" + e.ID.String() }

// Source is what the journal calls it.
func (e *MemberEntry) Source() string { return "memberEntries/" + e.ID.String() }

// ValidateCharge lists everything wrong with a new charge at once. today is the cooperative's date.
func (e *MemberEntry) ValidateCharge(today Date) []FieldFault {
	var faults []FieldFault
	add := func(path, format string, args ...any) {
		faults = append(faults, FieldFault{Path: path, Message: fmt.Sprintf(format, args...)})
	}
	if e.Kind.Code() == "" {
		add("kind", "is missing; say what is charged")
	}
	if e.Amount == 0 {
		add("amount", "is 0.00; it must be below 0.00 to charge or above to credit")
	}
	if n := len([]rune(strings.TrimSpace(e.Description))); n < 3 || n > 120 {
		add("description", "has %d characters; tell the member what it is in 3 to 120", n)
	}
	if n := len([]rune(strings.TrimSpace(e.Authority))); n < 3 || n > 120 {
		add("authority", "has %d characters; name the paper that allows it in 3 to 120", n)
	}
	if e.Date > today {
		add("entry_date", "is %s, after today, %s", e.Date, today)
	}
	return faults
}
