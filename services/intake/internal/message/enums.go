package message

import (
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
)

var ticketStates = map[domain.State]intakev1.TicketState{
	domain.Open:       intakev1.TicketState_TICKET_STATE_OPEN,
	domain.Closed:     intakev1.TicketState_TICKET_STATE_CLOSED,
	domain.Voided:     intakev1.TicketState_TICKET_STATE_VOIDED,
	domain.Superseded: intakev1.TicketState_TICKET_STATE_SUPERSEDED,
	domain.Cancelled:  intakev1.TicketState_TICKET_STATE_CANCELLED,
}

var tareKinds = map[domain.TareKind]intakev1.TareKind{
	domain.TareWeighedEmpty: intakev1.TareKind_TARE_KIND_WEIGHED_EMPTY,
	domain.TareStencilled:   intakev1.TareKind_TARE_KIND_STENCILLED,
	domain.TareClass:        intakev1.TareKind_TARE_KIND_CLASS,
	domain.TareDeclared:     intakev1.TareKind_TARE_KIND_DECLARED,
	domain.TareReweighed:    intakev1.TareKind_TARE_KIND_REWEIGHED_AFTER_EMPTYING,
}

var classes = map[domain.Class]intakev1.AccuracyClass{
	domain.ClassII:  intakev1.AccuracyClass_ACCURACY_CLASS_II,
	domain.ClassIII: intakev1.AccuracyClass_ACCURACY_CLASS_III,
	domain.ClassIIL: intakev1.AccuracyClass_ACCURACY_CLASS_III_L,
}

var columns = map[domain.Column]intakev1.ToleranceKind{
	domain.Maintenance: intakev1.ToleranceKind_TOLERANCE_KIND_MAINTENANCE,
	domain.Acceptance:  intakev1.ToleranceKind_TOLERANCE_KIND_ACCEPTANCE,
}

var containers = map[domain.Container]intakev1.Container{
	domain.SteelClosedHead: intakev1.Container_CONTAINER_STEEL_CLOSED_HEAD,
	domain.SteelOpenHead:   intakev1.Container_CONTAINER_STEEL_OPEN_HEAD,
	domain.SteelLined:      intakev1.Container_CONTAINER_STEEL_LINED,
	domain.Plastic:         intakev1.Container_CONTAINER_PLASTIC,
	domain.Pail:            intakev1.Container_CONTAINER_PAIL,
	domain.Tote:            intakev1.Container_CONTAINER_TOTE,
}

var ownerships = map[domain.Ownership]intakev1.DrumOwnership{
	domain.OwnedByCooperative: intakev1.DrumOwnership_DRUM_OWNERSHIP_COOPERATIVE,
	domain.OwnedByMember:      intakev1.DrumOwnership_DRUM_OWNERSHIP_MEMBER,
	domain.OwnedInExchange:    intakev1.DrumOwnership_DRUM_OWNERSHIP_EXCHANGE,
}

var outcomes = map[domain.FindingOutcome]intakev1.FindingOutcome{
	domain.OriginalKept: intakev1.FindingOutcome_FINDING_OUTCOME_ORIGINAL_KEPT,
	domain.ReweighUsed:  intakev1.FindingOutcome_FINDING_OUTCOME_REWEIGH_USED,
	domain.Accepted:     intakev1.FindingOutcome_FINDING_OUTCOME_ACCEPTED,
	domain.Withdrawn:    intakev1.FindingOutcome_FINDING_OUTCOME_WITHDRAWN,
}

// Container reads what a drum is.
func Container(c intakev1.Container) domain.Container { return key(containers, c) }

// Ownership reads whose a drum is.
func Ownership(o intakev1.DrumOwnership) domain.Ownership { return key(ownerships, o) }

// State reads a ticket state; it is empty for unspecified.
func State(s intakev1.TicketState) domain.State { return key(ticketStates, s) }

// TareKind reads where a tare came from.
func TareKind(k intakev1.TareKind) domain.TareKind { return key(tareKinds, k) }

// Class reads an accuracy class; it is empty for unspecified.
func Class(c intakev1.AccuracyClass) domain.Class { return key(classes, c) }

// Column reads the column of the tolerance table; maintenance if not said.
func Column(k intakev1.ToleranceKind) domain.Column {
	if k == intakev1.ToleranceKind_TOLERANCE_KIND_ACCEPTANCE {
		return domain.Acceptance
	}
	return domain.Maintenance
}

func key[K, V comparable](m map[K]V, want V) K {
	for k, v := range m {
		if v == want {
			return k
		}
	}
	var none K
	return none
}
