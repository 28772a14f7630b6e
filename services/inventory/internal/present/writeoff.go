package present

import (
	"google.golang.org/protobuf/types/known/timestamppb"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
)

// WriteOff shows a request to write honey off.
func WriteOff(o lots.WriteOff, unit quantity.Unit) *inventoryv1.WriteOff {
	m := &inventoryv1.WriteOff{
		Name: o.Name(), From: string(o.Place), Mass: wire.MassToProto(o.Mass, unit), Jars: o.Jars, Reason: o.Reason, Asker: o.Asker,
		AskTime: timestamppb.New(o.Time), State: inventoryv1.WriteOffState(inventoryv1.WriteOffState_value["WRITE_OFF_STATE_"+o.State()]),
		HeldWhenAsked: wire.MassToProto(o.Held, unit), HeldNow: wire.MassToProto(o.Holds, unit),
	}
	if v := o.Decided; v != nil {
		m.Decider, m.DecideReason, m.DecideTime = v.Decider, v.Reason, timestamppb.New(v.Time)
		if v.Approved() {
			m.Transfer, m.Booked = "transfers/"+v.Transfer.String(), wire.MassToProto(v.Mass, unit)
		}
	}
	return m
}
