package message

import (
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
)

func (w Writer) money(m quantity.Money) *typev1.Money { return wire.MoneyToProto(m, w.Currency) }

// ClassTare writes a class tare.
func (w Writer) ClassTare(t domain.ClassTare) *intakev1.ClassTare {
	return &intakev1.ClassTare{
		Name: t.Name(), Container: containers[t.Container], Tare: w.mass(t.Tare), SampleSize: int32(t.SampleSize), //nolint:gosec // at most 10000
		SampleDate: t.SampleDate, ReviewDate: t.ReviewDate, Note: t.Note, Setter: t.Setter, SetTime: stamp(t.SetTime),
	}
}

// ContainerDeposit writes a deposit.
func (w Writer) ContainerDeposit(d domain.Deposit) *intakev1.ContainerDeposit {
	return &intakev1.ContainerDeposit{
		Name: d.Name(), Container: containers[d.Container], Amount: w.money(d.Amount), EffectiveDate: d.From, Note: d.Note, Setter: d.Setter,
		SetTime: stamp(d.SetTime),
	}
}
