package payment

import (
	"bytes"
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// EncumbranceKind is by what right somebody else has part of a member's money, in the order it is taken.
type EncumbranceKind int

// The kinds. The numbers are those of the wire and of the stored notice.
const (
	Withholding EncumbranceKind = iota + 1
	Levy
	Lien
	Assignment
)

// Encumbrance is a right of somebody else in a member's money.
type Encumbrance struct {
	ID       uuid.UUID
	Place    int64
	Member   string
	Kind     EncumbranceKind
	Creditor string
	// Percent is the share of each payment.
	Percent quantity.Percent
	// Limit is the most it takes in all; zero for no limit.
	Limit    quantity.Money
	Document string
	Received domain.Date
	// Expires is the last day it counts; empty for no end.
	Expires      domain.Date
	Unresolved   bool
	Registrar    string
	RegisterTime time.Time
	// Ender is empty while it counts.
	Ender       string
	EndDocument string
	// Taken is what it has taken so far, less what the bank returned.
	Taken quantity.Money
}

// Name is "encumbrances/{uuid}".
func (e *Encumbrance) Name() string { return "encumbrances/" + e.ID.String() }

// Validate lists everything wrong with a new notice at once.
func (e *Encumbrance) Validate() []domain.FieldFault {
	var faults []domain.FieldFault
	add := func(path, format string, args ...any) {
		faults = append(faults, domain.FieldFault{Path: path, Message: fmt.Sprintf(format, args...)})
	}
	if e.Kind < Withholding || e.Kind > Assignment {
		add("kind", "is missing; say by what right the creditor is paid")
	}
	if n := len([]rune(strings.TrimSpace(e.Creditor))); n < 1 || n > 70 {
		add("creditor", "has %d characters; it needs 1 to 70", n)
	}
	if e.Percent <= 0 || e.Percent > 100_00 {
		add("percent", "is %v; it must be above 0 and at most 100", e.Percent)
	}
	if e.Limit < 0 {
		add("limit", "is %v; it must be above 0.00, or be left out", e.Limit)
	}
	if n := len([]rune(strings.TrimSpace(e.Document))); n < 3 || n > 120 {
		add("document", "has %d characters; name the paper in 3 to 120", n)
	}
	if e.Expires != "" && e.Expires < e.Received {
		add("expire_date", "is %s, before receive_date %s", e.Expires, e.Received)
	}
	return faults
}

// MayEnd wants another person than the one who registered it: ending a notice moves money.
func (e *Encumbrance) MayEnd(login string) error {
	if e.Ender != "" {
		return &domain.StateError{Resource: e.Name(), State: "ENDED", Message: "this notice has ended already by " + e.EndDocument}
	}
	if login == e.Registrar {
		return &domain.SamePersonError{First: e.Registrar, Message: "the person who registered a notice cannot end it"}
	}
	return nil
}

func (e *Encumbrance) counts(on domain.Date) bool {
	return e.Ender == "" && (e.Expires == "" || on <= e.Expires)
}

// Part is one payee's part of a balance.
type Part struct {
	// Payee is "members/…" or "encumbrances/…", whose account the money goes to.
	Payee       string
	To          string
	Amount      quantity.Money
	Explanation string
}

// Split divides a balance among those who have a right in it on a date: by kind, then by the day the notice came, then by
// identity; the rest is the member's. Shares are of the whole balance. blocked is why nothing may be paid at all.
func Split(member, holder string, balance quantity.Money, notices []*Encumbrance, on domain.Date, terms domain.Terms) (parts []Part, blocked string, err error) {
	due := slices.Clone(notices)
	slices.SortFunc(due, func(a, b *Encumbrance) int {
		return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Received, b.Received), bytes.Compare(a.ID[:], b.ID[:]))
	})
	left := balance
	for _, e := range due {
		if !e.counts(on) {
			continue
		}
		if e.Unresolved {
			return nil, fmt.Sprintf("a notice of %s is not resolved; until it is, the cooperative could have to pay twice", e.Received), nil
		}
		share, err := e.Percent.Of(int64(balance))
		if err != nil {
			return nil, "", fmt.Errorf("share of %s: %w", e.Name(), err)
		}
		cut := min(quantity.Money(share), left)
		if e.Limit > 0 {
			cut = min(cut, max(e.Limit-e.Taken, 0))
		}
		if cut <= 0 {
			continue
		}
		left -= cut
		parts = append(parts, Part{Payee: e.Name(), To: e.Creditor, Amount: cut, Explanation: fmt.Sprintf("%v %% of %s by %s", e.Percent, terms.Money(balance), e.Document)})
	}
	if left > 0 {
		why := "balance of " + terms.Money(balance)
		if left < balance {
			why += ", less " + terms.Money(balance-left) + " to others"
		}
		parts = append(parts, Part{Payee: member, To: holder, Amount: left, Explanation: why})
	}
	return parts, "", nil
}
