package message

import (
	"cmp"
	"slices"
	"strings"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
)

// Names of these enumerations are the domain's own behind a prefix; the requests were checked to be defined.
const (
	reasonPrefix = "REJECT_REASON_"
	fatePrefix   = "REJECT_FATE_"
	movePrefix   = "CONTAINER_MOVE_KIND_"
)

// RejectReason reads why a barrel was not taken in.
func RejectReason(r intakev1.RejectReason) domain.RejectReason {
	return domain.RejectReason(strings.TrimPrefix(r.String(), reasonPrefix))
}

// Fate reads how a rejected barrel left.
func Fate(f intakev1.RejectFate) domain.Fate {
	return domain.Fate(strings.TrimPrefix(f.String(), fatePrefix))
}

// MoveKind reads what happened to containers.
func MoveKind(k intakev1.ContainerMoveKind) domain.MoveKind {
	return domain.MoveKind(strings.TrimPrefix(k.String(), movePrefix))
}

// Reject writes a barrel that was not taken in.
func (Writer) Reject(r domain.Reject) *intakev1.RejectedBarrel {
	return &intakev1.RejectedBarrel{
		Name: r.Name(), Ticket: ticketName(r.Ticket), DrumTag: r.DrumTag, Note: r.Note, PhotoSha256: r.Photo, Rejecter: r.Rejecter,
		Reason:     intakev1.RejectReason(intakev1.RejectReason_value[reasonPrefix+string(r.Reason)]),
		RejectTime: stamp(r.Time), Fate: intakev1.RejectFate(intakev1.RejectFate_value[fatePrefix+string(r.Fate)]),
		ExitNote: r.ExitNote, ExitRecorder: r.Recorder, ExitTime: stamp(r.ExitTime),
	}
}

// ContainerMove writes a line of a container account.
func (w Writer) ContainerMove(m domain.ContainerMove) *intakev1.ContainerMove {
	return &intakev1.ContainerMove{
		Name: m.Name(), Member: memberName(m.Member), Container: containers[m.Container], Count: int32(m.Count), Note: m.Note, //nolint:gosec // at most 10000
		Kind:     intakev1.ContainerMoveKind(intakev1.ContainerMoveKind_value[movePrefix+string(m.Kind)]),
		Recorder: m.Recorder, MoveTime: stamp(m.Time), Deposit: w.money(m.Deposit),
	}
}

// ContainerBalance writes what a member has out of one type.
func (w Writer) ContainerBalance(b domain.ContainerBalance) *intakev1.ContainerBalance {
	return &intakev1.ContainerBalance{
		Container: containers[b.Container], GivenOut: b.Moved[domain.GivenOut], BackFull: b.Moved[domain.BackFull],
		BackEmpty: b.Moved[domain.BackEmpty], Lost: b.Moved[domain.Lost], Balance: b.Out(),
		Deposit: w.money(b.Deposit),
	}
}

// ContainerAccount writes what a member has out.
func (w Writer) ContainerAccount(a domain.ContainerAccount) *intakev1.ContainerAccount {
	out := &intakev1.ContainerAccount{Name: memberName(a.Member) + "/containerAccount", DepositTotal: w.money(a.Deposit())}
	for _, b := range a.Balances {
		out.Balances = append(out.Balances, w.ContainerBalance(b))
	}
	slices.SortFunc(out.GetBalances(), func(a, b *intakev1.ContainerBalance) int { return cmp.Compare(a.GetContainer(), b.GetContainer()) })
	for _, m := range a.Moves {
		out.Moves = append(out.Moves, w.ContainerMove(m))
	}
	return out
}
