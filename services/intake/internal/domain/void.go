package domain

import (
	"time"

	"github.com/google/uuid"
)

// MayRequestVoid refuses to withdraw what does not stand. A second request replaces the first while that is undecided.
func (t Ticket) MayRequestVoid(reissueMember string) error {
	switch t.State {
	case Closed:
	case Open:
		return t.stateForbids("ticket %s is still open: cancel it instead", t.Number)
	default:
		return t.stateForbids("ticket %s is %s already", t.Number, t.State.words())
	}
	if reissueMember == t.Member {
		return invalid("reissue_member", "ticket %s belongs to members/%s already: name another member, or none", t.Number, t.Member)
	}
	return nil
}

// MayApproveVoid wants a request, and a person who neither weighed the delivery nor asked.
func (t Ticket) MayApproveVoid(approver string) error {
	if t.State != Closed {
		return t.stateForbids("ticket %s is %s: only a closed ticket can be withdrawn", t.Number, t.State.words())
	}
	if t.Void == nil {
		return t.stateForbids("nobody asked to void ticket %s: request it first, then let a second person approve", t.Number)
	}
	if approver == t.Void.Requester {
		return samePerson(approver, "you asked to void ticket %s: a second person in the office has to approve it", t.Number)
	}
	for _, weigher := range t.weighers() {
		if approver == weigher {
			return samePerson(approver, "you weighed barrels of ticket %s: someone who did not has to approve its withdrawal", t.Number)
		}
	}
	return nil
}

func (t Ticket) weighers() []string {
	logins := []string{t.Weigher}
	for _, b := range t.Barrels {
		logins = append(logins, b.Weigher)
	}
	return logins
}

// Outcome is the state an approved void leads to.
func (v Void) Outcome() State {
	if v.ReissueMember == "" {
		return Voided
	}
	return Superseded
}

// Reissue is the ticket that replaces t: another owner and, to come, another number; the same barrels, delivery and
// weigher, because who weighed stays who may not approve.
func (t Ticket) Reissue(id uuid.UUID, owner Member, at time.Time) Ticket {
	stands := t
	stands.ID, stands.Supersedes, stands.SupersededBy, stands.Void = id, t.ID, uuid.Nil, nil
	stands.Member, stands.MemberName = owner.Number, owner.DisplayName
	stands.State, stands.Version = Closed, 1
	stands.OpenTime, stands.CloseTime, stands.RecordTime = at, at, at
	stands.Barrels = make([]Barrel, len(t.Barrels))
	for i, b := range t.Barrels {
		b.Ticket, b.Member = id, owner.Number
		stands.Barrels[i] = b
	}
	return stands
}

// AsSeenByOwner hides what is a third party's business: to whom a delivery really belongs, and what was written about it.
// Barrels of a replaced ticket stay as they were on it; their samples belong to the new owner.
func (t Ticket) AsSeenByOwner() Ticket {
	if t.Void != nil {
		v := *t.Void
		v.ReissueMember, v.Reason = "", ""
		t.Void = &v
	}
	if t.State != Superseded {
		return t
	}
	barrels := make([]Barrel, len(t.Barrels))
	copy(barrels, t.Barrels)
	for i := range barrels {
		barrels[i].Sample = ""
	}
	t.Barrels = barrels
	return t
}
