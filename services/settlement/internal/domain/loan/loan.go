// Package loan is what members owe on loans: simple interest by the day, as an exact fraction that is rounded once.
package loan

import (
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// Purpose is what was lent. The numbers are those of the wire and of the stored loan.
type Purpose int

// The purposes.
const (
	Cash Purpose = iota + 1
	Supplies
	OverAdvance
)

// DayCount is how the days of a year are counted.
type DayCount int

// The counts.
const (
	Actual365 DayCount = iota + 1
	Actual360
)

// Days of the year interest is for.
func (c DayCount) Days() int64 {
	if c == Actual360 {
		return 360
	}
	return 365
}

// MaxRate is the highest rate that is written down without asking whether it was mistyped; what is lawful is for counsel.
const MaxRate = quantity.Percent(36_00)

// Loan is one agreement with one member.
type Loan struct {
	ID        uuid.UUID
	Place     int64
	Number    string
	Member    string
	Purpose   Purpose
	Principal quantity.Money
	// Rate is percent a year.
	Rate     quantity.Percent
	DayCount DayCount
	// Deduction is the part of each payment that goes to the loan.
	Deduction   quantity.Percent
	Authority   string
	Proposer    string
	ProposeTime time.Time
	// Approver is empty while nothing is lent.
	Approver    string
	Resolution  string
	ApproveTime *time.Time
	Start       domain.Date
	// Entries are in the order recorded, which is that of their dates.
	Entries []Entry
}

// EntryKind is what happened. The numbers are those of the wire and of the stored entry.
type EntryKind int

// The kinds.
const (
	Lent EntryKind = iota + 1
	Interest
	Deducted
	Paid
)

// Entry changes what is owed; what was paid is negative.
type Entry struct {
	ID        uuid.UUID
	Kind      EntryKind
	Interest  quantity.Money
	Principal quantity.Money
	Date      domain.Date
	Document  string
	// Batch is the payment batch a deduction was made with; the zero UUID otherwise.
	Batch    uuid.UUID
	Recorder string
	Time     time.Time
}

// Name is "loans/{uuid}".
func (l *Loan) Name() string { return "loans/" + l.ID.String() }

// Name is "loanEntries/{uuid}".
func (e *Entry) Name() string { return "loanEntries/" + e.ID.String() }

// Validate lists everything wrong with a new loan at once.
func (l *Loan) Validate() []domain.FieldFault {
	var faults []domain.FieldFault
	add := func(path, format string, args ...any) {
		faults = append(faults, domain.FieldFault{Path: path, Message: fmt.Sprintf(format, args...)})
	}
	if l.Purpose < Cash || l.Purpose > OverAdvance {
		add("purpose", "is missing; say what is lent")
	}
	if l.DayCount < Actual365 || l.DayCount > Actual360 {
		add("day_count", "is missing; say how days are counted")
	}
	if l.Principal <= 0 {
		add("principal", "is %v; it must be above 0.00", l.Principal)
	}
	if l.Rate < 0 || l.Rate > MaxRate {
		add("annual_rate_percent", "is %v; it must be 0 to %v. What the law allows is for counsel to say", l.Rate, MaxRate)
	}
	if l.Deduction < 0 || l.Deduction > 100_00 {
		add("deduction_percent", "is %v; it must be 0 to 100", l.Deduction)
	}
	if n := len([]rune(strings.TrimSpace(l.Authority))); n < 3 || n > 120 {
		add("authority", "has %d characters; name the paper the member signed in 3 to 120", n)
	}
	return faults
}

// Open reports whether the loan is lent and not paid back.
func (l *Loan) Open() bool {
	principal, interest := l.booked()
	return l.Approver != "" && (principal != 0 || interest != 0)
}

// MayApprove wants another person than the one who proposed it, and not the borrower. balance is what the cooperative owes the
// member: an over-advance is at most what that is below zero.
func (l *Loan) MayApprove(login, member string, balance quantity.Money) error {
	switch {
	case l.Approver != "":
		return l.forbids("OPEN", "this loan is approved already, by "+l.Resolution)
	case login == l.Proposer:
		return &domain.SamePersonError{First: l.Proposer, Message: "the person who proposed a loan cannot approve it"}
	case member == l.Member:
		return l.forbids("INTERESTED", "this is your own loan; another person must approve it")
	case l.Purpose == OverAdvance && l.Principal > -balance:
		return l.forbids("NOT_OVER_ADVANCED", fmt.Sprintf("the loan is for %v, and the member's balance is %v; only what is owed can be spread", l.Principal, balance))
	}
	return nil
}

// Approve lends on a date.
func (l *Loan) Approve(login, resolution string, at time.Time, on domain.Date) Entry {
	l.Approver, l.Resolution, l.ApproveTime, l.Start = login, resolution, &at, on
	return Entry{Kind: Lent, Principal: l.Principal, Date: on, Document: resolution, Recorder: login, Time: at}
}

func (l *Loan) forbids(state, message string) error {
	return &domain.StateError{Resource: l.Name(), State: state, Message: message}
}
