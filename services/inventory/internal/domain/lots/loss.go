package lots

import (
	"slices"

	"barrelhead.example/services/inventory/internal/domain/stock"
)

// Ways honey is lost.
const (
	Drain       = "DRAIN"
	Filter      = "FILTER"
	Flush       = "FLUSH"
	Overfill    = "OVERFILL"
	Sampled     = "SAMPLE"
	Foam        = "FOAM"
	Unexplained = "UNEXPLAINED"
	Broken      = "BROKEN"
	Destroyed   = "DESTROYED"
)

// LosableBarrel fails where a held barrel would be lost in a way that only honey being worked is: a hold forbids the work. What leaked,
// was sampled, was destroyed or is not found is gone, held or not.
func LosableBarrel(i stock.Item, way string) error {
	if len(i.Holds) > 0 && slices.Contains([]string{Drain, Filter, Flush, Overfill, Foam}, way) {
		return i.Free("worked") //nolint:wrapcheck // says which hold
	}
	return nil
}

// Lose decides whether jars of a closed lot may be booked as gone; loose are those that stand on no pallet.
func (r Run) Lose(way string, jars, loose int64) error {
	switch {
	case !r.Closed:
		return &FillingError{Place: r.Place(), Called: r.Called()}
	case !slices.Contains([]string{Broken, Destroyed, Sampled, Unexplained}, way):
		return &stock.StateError{Resource: string(r.Place()), Called: r.Called(), State: "CLOSED", Action: "lost as " + way + ": jars break, are destroyed, drawn as samples, or not found"}
	case jars > loose && jars <= r.OnHand:
		return &LooseError{Run: r, Loose: loose, Asked: jars}
	default:
		return nil
	}
}
