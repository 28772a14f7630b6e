package present

import (
	"google.golang.org/protobuf/types/known/timestamppb"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/sale"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
)

// SaleKindPrefix stands before a side in the enum.
const SaleKindPrefix = "SALE_KIND_"

// Customer shows a customer.
func Customer(c sale.Customer) *inventoryv1.Customer {
	return &inventoryv1.Customer{
		Name: c.Name(), Title: c.Title, Address: c.Address, RecallContact: c.Contact, Recorder: c.Recorder, RecordTime: timestamppb.New(c.Time),
	}
}

// Order shows an order.
func Order(o sale.Order, unit quantity.Unit) *inventoryv1.Order {
	m := &inventoryv1.Order{
		Name: o.Name(), Customer: sale.Customer{ID: o.Customer}.Name(), Reference: o.Reference, DueDate: o.DueDate,
		State: inventoryv1.OrderState(inventoryv1.OrderState_value["ORDER_STATE_"+o.State()]), Placer: o.Placer, PlaceTime: timestamppb.New(o.Time),
		Canceller: o.Canceller, CancelReason: o.WhyEnded,
	}
	if o.Canceller != "" {
		m.CancelTime = timestamppb.New(o.EndTime)
	}
	for _, l := range o.Lines {
		m.Lines = append(m.Lines, &inventoryv1.OrderLine{Label: "labels/" + l.Label, Jars: l.Jars, ShippedJars: l.Shipped})
	}
	if o.Bulk > 0 {
		m.Bulk, m.ShippedBulk = wire.MassToProto(o.Bulk, unit), wire.MassToProto(o.ShippedBulk, unit)
	}
	return m
}

// Sale shows what a shipment brought or cost.
func Sale(s sale.Sale, unit quantity.Unit, currency string) *inventoryv1.Sale {
	m := &inventoryv1.Sale{
		Name: s.Name(), Shipment: "shipments/" + s.Shipment.String(), Customer: s.Customer, Kind: inventoryv1.SaleKind(inventoryv1.SaleKind_value[SaleKindPrefix+s.Kind]),
		Amount: wire.MoneyToProto(s.Amount, currency), Document: s.Document, EntryDate: s.EntryDate, Recorder: s.Recorder, RecordTime: timestamppb.New(s.Time),
	}
	for _, p := range s.Parts {
		m.Parts = append(m.Parts, &inventoryv1.SalePart{
			Variety: p.Variety, CropYear: p.CropYear, Mass: wire.MassToProto(p.Mass, unit), Amount: wire.MoneyToProto(p.Amount, currency),
		})
	}
	return m
}
