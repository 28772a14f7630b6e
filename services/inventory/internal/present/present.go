// Package present turns what the domain knows into messages, for answers and for facts alike.
package present

import (
	"github.com/google/uuid"
	"google.golang.org/protobuf/types/known/timestamppb"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
)

// BarrelName is the name of a barrel at intake.
func BarrelName(barrel uuid.UUID) string { return "barrels/" + barrel.String() }

// Item shows a barrel. The member stays inside: the warehouse works without knowing whose honey it is.
func Item(i stock.Item, unit quantity.Unit) *inventoryv1.StockItem {
	m := &inventoryv1.StockItem{
		Name: stock.Name(i.Barrel), Barrel: BarrelName(i.Root), DrumTag: i.DrumTag,
		Net: wire.MassToProto(i.Net, unit), Variety: i.Variety, CropYear: i.CropYear, Location: i.Location,
		State: inventoryv1.StockState(inventoryv1.StockState_value["STOCK_STATE_"+string(i.State)]),
		Grade: i.Grading.Grade, ColorClass: i.Grading.ColorClass, Certificate: i.Grading.Certificate,
		Ticket: "tickets/" + i.Ticket.String(), ReceiveDate: i.ReceiveDate, Etag: i.ETag(), Remaining: wire.MassToProto(i.Remaining(), unit),
		Claims: Claims(i.Claims),
	}
	if i.Parent != uuid.Nil {
		m.SplitFrom = stock.Name(i.Parent)
	}
	if i.Grading.Moisture != nil {
		m.MoisturePercent = i.Grading.Moisture.String()
	}
	if i.Grading.Pfund != nil {
		m.PfundMm = quantity.FormatFixed(*i.Grading.Pfund, 2, 1)
	}
	for _, h := range i.Holds {
		m.Holds = append(m.Holds, Hold(h))
	}
	return m
}

// Hold shows a hold.
func Hold(h stock.Hold) *inventoryv1.Hold {
	m := &inventoryv1.Hold{
		Name: stock.HoldName(h.ID), Place: h.Place(), Code: HoldCode(h.Code), Reason: h.Reason,
		Placer: h.Placer, PlaceTime: timestamppb.New(h.Time),
	}
	if h.Kind == stock.OfBarrel {
		m.StockItem = stock.Name(h.Barrel)
	}
	if h.Cause != uuid.Nil {
		m.Cause = stock.HoldName(h.Cause)
	}
	if h.Release != nil {
		m.Releaser, m.ReleaseReason = h.Release.Releaser, h.Release.Reason
		m.ReleaseTime = timestamppb.New(h.Release.Time)
	}
	return m
}

const codePrefix = "HOLD_CODE_"

// HoldCode is the code on the wire.
func HoldCode(c stock.Code) inventoryv1.HoldCode {
	return inventoryv1.HoldCode(inventoryv1.HoldCode_value[codePrefix+string(c)])
}

// CodeOf is the code of the domain.
func CodeOf(c inventoryv1.HoldCode) stock.Code { return stock.Code(c.String()[len(codePrefix):]) }

// Movement shows a move.
func Movement(m stock.Movement) *inventoryv1.Movement {
	return &inventoryv1.Movement{
		Name: "movements/" + m.ID.String(), StockItem: stock.Name(m.Barrel), FromLocation: m.From, ToLocation: m.To,
		Mover: m.Mover, MoveTime: timestamppb.New(m.Time),
	}
}
