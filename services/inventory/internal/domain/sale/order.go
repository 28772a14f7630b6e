// Package sale is who buys honey, what they ordered, and what a shipment brought and cost.
package sale

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/quantity"
)

// Customer is what is known of who buys honey.
type Customer struct {
	Number                                int64
	ID, Title, Address, Contact, Recorder string
	Time                                  time.Time
}

// Name is the resource name, "customers/{id}".
func (c Customer) Name() string { return "customers/" + c.ID }

// Order is what a customer asked for.
type Order struct {
	ID                  uuid.UUID
	Number              int64
	Customer            string // id
	Reference, DueDate  string
	Lines               []Line
	Bulk, ShippedBulk   quantity.Mass
	Placer              string
	Time                time.Time
	Canceller, WhyEnded string
	EndTime             time.Time
}

// Line is jars under one label.
type Line struct {
	Label         string // id
	Jars, Shipped int64
}

// Name is the resource name, "orders/{uuid}".
func (o Order) Name() string { return "orders/" + o.ID.String() }

// Called is what people call it: the customer's own number for it, where it has one.
func (o Order) Called() string {
	if o.Reference == "" {
		return "the order of " + o.Customer
	}
	return "order " + o.Reference + " of " + o.Customer
}

// States of an order.
const (
	Open      = "OPEN"
	Filled    = "FILLED"
	Cancelled = "CANCELLED"
)

// State is what is left to ship.
func (o Order) State() string {
	left := o.Bulk > o.ShippedBulk || slices.ContainsFunc(o.Lines, func(l Line) bool { return l.Jars > l.Shipped })
	switch {
	case o.Canceller != "":
		return Cancelled
	case left:
		return Open
	default:
		return Filled
	}
}

// Must fails unless something is left to ship; action completes "… cannot be …".
func (o Order) Must(action string) error {
	if state := o.State(); state != Open {
		return &stock.StateError{Resource: o.Name(), Called: o.Called(), State: state, Action: action}
	}
	return nil
}

// Ship decides whether jars by label, and honey as it is, may leave for the order: not more of anything than is left of it. Refusals give
// weights in unit.
func (o Order) Ship(jars map[string]int64, bulk quantity.Mass, unit quantity.Unit) error {
	if err := o.Must("shipped"); err != nil {
		return err
	}
	for _, label := range slices.Sorted(maps.Keys(jars)) {
		var left int64
		for _, l := range o.Lines {
			if l.Label == label {
				left = l.Jars - l.Shipped
			}
		}
		if jars[label] > left {
			over := jars[label] - left
			return &BeyondError{Order: o, What: quantity.Count(left, "jar") + " of label " + label, Over: quantity.Whole(over), Difference: fmt.Sprint(over)}
		}
	}
	if left := o.Bulk - o.ShippedBulk; bulk > left {
		return &BeyondError{Order: o, What: left.Say(unit) + " of honey as it is", Over: (bulk - left).Say(unit), Difference: (bulk - left).String()}
	}
	return nil
}

// BeyondError means that more was to leave than is left of an order.
type BeyondError struct {
	Order                  Order
	What, Over, Difference string
}

// Error gives both numbers.
func (e *BeyondError) Error() string {
	return fmt.Sprintf("%s has %s left to ship, %s more cannot leave for it: ship them without an order, or place another", e.Order.Called(), e.What, e.Over)
}

// Reason is the wire reason.
func (e *BeyondError) Reason() string { return "TOTAL_DISAGREES" }

// Metadata repeats the difference.
func (e *BeyondError) Metadata() map[string]string {
	return map[string]string{"resource": e.Order.Name(), "difference": e.Difference}
}
