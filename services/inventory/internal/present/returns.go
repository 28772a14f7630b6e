package present

import (
	"github.com/google/uuid"
	"google.golang.org/protobuf/types/known/timestamppb"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
)

// ReturnOutcomePrefix stands before an outcome in the enum.
const ReturnOutcomePrefix = "RETURN_OUTCOME_"

// Return shows what a customer sent back.
func Return(r lots.Return, unit quantity.Unit) *inventoryv1.CustomerReturn {
	jars, mass := r.Waiting()
	m := &inventoryv1.CustomerReturn{
		Name: string(r.Place()), Shipment: string(lots.Of(lots.Shipment, r.Shipment)), Customer: r.Customer, Place: string(r.Of), LotCode: r.Code,
		Jars: r.Jars, Mass: wire.MassToProto(r.Mass, unit), Reason: r.Reason, Receiver: r.Receiver, ReceiveTime: timestamppb.New(r.Time),
		WaitingJars: jars, Waiting: wire.MassToProto(mass, unit),
	}
	if r.Pallet != uuid.Nil {
		m.Pallet = lots.Pallet{ID: r.Pallet}.Name()
	}
	for _, d := range r.Decisions {
		m.Decisions = append(m.Decisions, &inventoryv1.ReturnDecision{
			Name: "transfers/" + d.ID.String(), Outcome: inventoryv1.ReturnOutcome(inventoryv1.ReturnOutcome_value[ReturnOutcomePrefix+d.Outcome]), To: string(d.To),
			Jars: d.Jars, Mass: wire.MassToProto(d.Mass, unit), Reason: d.Reason, Decider: d.Decider, DecideTime: timestamppb.New(d.Time),
		})
	}
	return m
}
