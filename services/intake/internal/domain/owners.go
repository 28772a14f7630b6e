package domain

import (
	"fmt"
	"slices"
	"strconv"
	"time"

	"barrelhead.example/services/kit/quantity"
)

// Share is a part of a delivery in 10⁻⁴ percent.
type Share int64

// All is 100.0000 %.
const All Share = 100_0000

const (
	shareDigits = 4
	mostOwners  = 10
)

// ParseShare reads e.g. "33.3333".
func ParseShare(s string) (Share, error) {
	v, err := quantity.ParseFixed(s, shareDigits)
	return Share(v), err
}

// String is e.g. "40.0" or "33.3333".
func (s Share) String() string { return quantity.FormatFixed(int64(s), shareDigits, 1) }

// Owner is one owner's part of a delivery.
type Owner struct {
	// Member is the number, "M-0001".
	Member string
	Name   string
	Share  Share
}

// Owners are all owners of a delivery, its member first; empty when that member owns all of it.
type Owners []Owner

// SplitAmong checks what was asked and puts the member first. A single owner of everything is no split.
func SplitAmong(field, member string, asked Owners) (Owners, error) {
	if len(asked) == 0 {
		return nil, nil
	}
	if err := asked.vet(field); err != nil {
		return nil, err
	}
	lead := slices.IndexFunc(asked, func(o Owner) bool { return o.Member == member })
	if lead < 0 {
		return nil, invalid(field, "members/%s brought the delivery but has no share in it: give it one, or name another member", member)
	}
	if len(asked) == 1 {
		return nil, nil
	}
	split := Owners{asked[lead]}
	split = append(split, asked[:lead]...)
	return append(split, asked[lead+1:]...), nil
}

func (o Owners) vet(field string) error {
	if len(o) > mostOwners {
		return invalid(field, "%d owners are too many: at most %d can share a delivery", len(o), mostOwners)
	}
	var sum Share
	seen := map[string]bool{}
	for _, owner := range o {
		if owner.Share <= 0 || owner.Share > All {
			return invalid(field, "members/%s cannot own %s %%: a share is above 0 and at most 100", owner.Member, owner.Share)
		}
		if seen[owner.Member] {
			return invalid(field, "members/%s is listed twice: add its shares up", owner.Member)
		}
		seen[owner.Member] = true
		sum += owner.Share
	}
	if sum != All {
		r := invalid(field, "the shares add up to %s %%: they must be exactly 100 %%", sum)
		r.metadata["sum"], r.metadata["owners"] = sum.String(), strconv.Itoa(len(o))
		return r
	}
	return nil
}

// Check is the invariant of stored owners.
func (o Owners) Check() error {
	if len(o) == 0 {
		return nil
	}
	if err := o.vet("owners"); err != nil {
		return fmt.Errorf("stored owners: %w", err)
	}
	return nil
}

// Of is the owner with that number, if it has a share.
func (o Owners) Of(member string) (Owner, bool) {
	i := slices.IndexFunc(o, func(owner Owner) bool { return owner.Member == member })
	if i < 0 {
		return Owner{}, false
	}
	return o[i], true
}

// same compares who and how much, whatever the names and the order.
func (o Owners) same(other Owners) bool {
	if len(o) != len(other) {
		return false
	}
	for _, owner := range o {
		if found, ok := other.Of(owner.Member); !ok || found.Share != owner.Share {
			return false
		}
	}
	return true
}

// inPlaceOf puts one member where another was.
func (o Owners) inPlaceOf(old, replacement string) Owners {
	changed := slices.Clone(o)
	for i := range changed {
		if changed[i].Member == old {
			changed[i].Member, changed[i].Name = replacement, ""
		}
	}
	return changed
}

// StandingSplit is what a member agreed on for its deliveries from a date on.
type StandingSplit struct {
	ID     int64
	Member string
	// From is the first delivery date.
	From string
	// Owners are empty when the member owns all again.
	Owners  Owners
	Note    string
	Setter  string
	SetTime time.Time
}

// Name is the resource name.
func (s StandingSplit) Name() string {
	return Member{Number: s.Member}.Name() + "/standingSplits/" + strconv.FormatInt(s.ID, 10)
}

// Vet refuses a split that reaches into the past: tickets of those days were opened under what was agreed then.
func (s StandingSplit) Vet(today string) error {
	if !isDate(s.From) {
		return invalid("effective_date", "%q is not a date such as 2026-07-01", s.From)
	}
	if s.From < today {
		return outOfRange("effective_date", today, "", "a split cannot begin on %s, before today: begin it on %s or later, and have "+
			"tickets that are wrong voided and reissued", s.From, today)
	}
	return nil
}
