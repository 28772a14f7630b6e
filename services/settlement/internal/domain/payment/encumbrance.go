package payment

import (
	"fmt"
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
	JointPayee
	Heir
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
	Expires domain.Date
	// CropYear is the one whose honey it is in; 0 for all of a member's money.
	CropYear     int
	Unresolved   bool
	Registrar    string
	RegisterTime time.Time
	// Ender is empty while it counts.
	Ender       string
	EndDocument string
	Releases    []Release
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
	if e.Kind < Withholding || e.Kind > Heir {
		add("kind", "is missing; say by what right the creditor is paid")
	}
	if n := len([]rune(strings.TrimSpace(e.Creditor))); n < 1 || n > 70 {
		add("creditor", "has %d characters; it needs 1 to 70", n)
	}
	if e.Percent <= 0 || e.Percent > 100_00 {
		add("percent", "is %v; it must be above 0 and at most 100", e.Percent)
	}
	if e.Kind == Heir && e.Limit != 0 {
		add("limit", "an heir's share has no limit")
	}
	if e.CropYear != 0 && (e.CropYear < 2000 || e.CropYear > 2100) {
		add("crop_year", "is %d; it must be from 2000 to 2100, or be left out for all crop years", e.CropYear)
	}
	if e.CropYear != 0 && (e.Kind < Lien || e.Kind > JointPayee) {
		add("crop_year", "only a lien, an assignment and a joint payment may name one; what the law or an estate takes is of all crop years")
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

// MayEnd wants the releases of all who have a say, and another person than those who registered it or recorded a release:
// ending a notice moves money. One that was never resolved never counted, and needs no release.
func (e *Encumbrance) MayEnd(login string) error {
	if err := e.mustStand(); err != nil {
		return err
	}
	if missing := e.Missing(); len(missing) > 0 && !e.Unresolved {
		words := make([]string, len(missing))
		for i, p := range missing {
			words[i] = e.releaseWords(p)
		}
		return &domain.StateError{
			Resource: e.Name(), State: "RELEASE_MISSING",
			Message: fmt.Sprintf("%s counts until it is released. Not recorded yet: %s; record who signed it, when, and the paper", e.what(), strings.Join(words, " and ")),
		}
	}
	if login == e.Registrar {
		return &domain.SamePersonError{First: e.Registrar, Message: "the person who registered a notice cannot end it"}
	}
	for _, r := range e.Releases {
		if login == r.Recorder {
			return &domain.SamePersonError{First: r.Recorder, Message: "the person who recorded a release of a notice cannot end it"}
		}
	}
	return nil
}

func (e *Encumbrance) mustStand() error {
	if e.Ender == "" {
		return nil
	}
	return &domain.StateError{Resource: e.Name(), State: "ENDED", Message: "this notice has ended already by " + e.EndDocument}
}

// counts leaves out heirs before the day they come in; every other notice counts from when it is known.
func (e *Encumbrance) counts(on domain.Date) bool {
	return e.Ender == "" && (e.Expires == "" || on <= e.Expires) && (e.Kind != Heir || e.Received <= on)
}

// Words says by what right, for a reader; no kind is the member itself.
func (k EncumbranceKind) Words() string {
	words := [...]string{"member", "withholding", "levy", "lien", "assignment", "joint payee", "heir"}
	if k < 0 || int(k) >= len(words) {
		return "another right"
	}
	return words[k]
}
