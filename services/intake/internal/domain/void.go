package domain

import (
	"slices"
	"time"

	"github.com/google/uuid"
)

// MayRequestVoid refuses to withdraw what does not stand. A second request replaces the first while that is undecided.
// It returns the owners of the reissue, as Void keeps them; v carries the member and the owners that were asked for.
func (t Ticket) MayRequestVoid(v Void) (Owners, error) {
	switch t.State {
	case Closed:
	case Open:
		return nil, t.stateForbids("ticket %s is still open: cancel it instead", t.Number)
	default:
		return nil, t.stateForbids("ticket %s is %s already", t.Number, t.State.words())
	}
	owners, err := t.reissueOwners(v)
	if err != nil {
		return nil, err
	}
	if v.ReissueMember == t.Member && owners.same(t.Owners) {
		return nil, invalid("reissue_member", "ticket %s belongs to members/%s already: name another member, or none", t.Number, t.Member)
	}
	return owners, nil
}

// reissueOwners keeps the split with another member in the place of the wrong one, unless other owners are named.
func (t Ticket) reissueOwners(v Void) (Owners, error) {
	switch held, holds := t.Owners.Of(v.ReissueMember); {
	case v.ReissueMember == "" && len(v.ReissueOwners) > 0:
		return nil, invalid("reissue_owners", "owners are named, but no member to reissue to: name the member too")
	case v.ReissueMember == "":
		return nil, nil
	case len(v.ReissueOwners) > 0:
		return SplitAmong("reissue_owners", v.ReissueMember, v.ReissueOwners)
	case v.ReissueMember != t.Member && holds:
		return nil, invalid("reissue_owners", "members/%s has %s %% of ticket %s already: say who owns how much of the new one",
			held.Member, held.Share, t.Number)
	default:
		return t.Owners.inPlaceOf(t.Member, v.ReissueMember), nil
	}
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
	stands.Member, stands.MemberName, stands.Owners = owner.Number, owner.DisplayName, t.Void.ReissueOwners
	stands.State, stands.Version = Closed, 1
	stands.HarvestDeclared, stands.LateDeclareTime = t.Declared(), time.Time{}
	stands.OpenTime, stands.CloseTime, stands.RecordTime = at, at, at
	stands.Barrels = make([]Barrel, len(t.Barrels))
	for i, b := range t.Barrels {
		b.Ticket, b.Member = id, owner.Number
		stands.Barrels[i] = b
	}
	return stands
}

// SeenBy are the members that may see the ticket.
func (t Ticket) SeenBy() []string {
	members := []string{t.Member}
	for _, o := range t.Owners {
		members = append(members, o.Member)
	}
	return members
}

// AsSeenBy hides from an owner what is a third party's business: to whom a delivery really belongs, what was written about
// it, and who the other owners are. Barrels of a replaced ticket stay as they were on it; their samples belong to the new
// owner.
func (t Ticket) AsSeenBy(member string) Ticket {
	if t.Void != nil {
		v := *t.Void
		v.ReissueMember, v.ReissueOwners, v.Reason = "", nil, ""
		t.Void = &v
	}
	if own, ok := t.Owners.Of(member); ok {
		t.Owners = Owners{own}
	}
	foreign := t.Member != member
	if foreign {
		t.Member, t.MemberName, t.Hauler, t.Vehicle, t.Remarks, t.Driver = "", "", "", "", "", ""
	}
	t.Barrels = slices.Clone(t.Barrels)
	for i := range t.Barrels {
		if t.State == Superseded {
			t.Barrels[i].Sample, t.Barrels[i].Seals = "", nil
		}
		if foreign {
			t.Barrels[i].Member = ""
		}
	}
	return t
}
