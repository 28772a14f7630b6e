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
		return &stock.StateError{Resource: o.Name(), State: state, Action: action}
	}
	return nil
}

// Ship decides whether jars by label, and honey as it is, may leave for the order: not more of anything than is left of it.
func (o Order) Ship(jars map[string]int64, bulk quantity.Mass) error {
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
			return &BeyondError{Order: o, What: fmt.Sprintf("%d jars under labels/%s", left, label), Difference: fmt.Sprint(jars[label] - left)}
		}
	}
	if left := o.Bulk - o.ShippedBulk; bulk > left {
		return &BeyondError{Order: o, What: left.String() + " of honey as it is", Difference: (bulk - left).String()}
	}
	return nil
}

// BeyondError means that more was to leave than is left of an order.
type BeyondError struct {
	Order            Order
	What, Difference string
}

// Error gives both numbers.
func (e *BeyondError) Error() string {
	return fmt.Sprintf("%s has %s left to ship, %s more cannot leave for it: ship them without an order, or place another", e.Order.Name(), e.What, e.Difference)
}

// Reason is the wire reason.
func (e *BeyondError) Reason() string { return "TOTAL_DISAGREES" }

// Metadata repeats the difference.
func (e *BeyondError) Metadata() map[string]string {
	return map[string]string{"resource": e.Order.Name(), "difference": e.Difference}
}
