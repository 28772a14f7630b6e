package line

import (
	"fmt"
	"math/big"
	"slices"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/inventory/internal/domain/label"
	"barrelhead.example/services/inventory/internal/domain/netcontent"
	"barrelhead.example/services/inventory/internal/domain/stock"
)

// Check is a few jars weighed while a run goes on.
type Check struct {
	ID, Run         uuid.UUID
	Unit            netcontent.Unit
	Declared        netcontent.Weight
	Weights         []netcontent.Weight
	Average, Lowest netcontent.Weight
	Variation       netcontent.Weight
	Stopped         bool
	Sentence        string
	Checker         string
	Time            time.Time
}

// CheckName is the resource name, "lineChecks/{uuid}".
func CheckName(id uuid.UUID) string { return "lineChecks/" + id.String() }

const (
	tenThousandths  = 10_000
	ouncesInAPound  = 16
	hundredthsOunce = 100
)

// Declared is what a label says a jar holds, in the unit of the scale.
func Declared(l label.Label, unit netcontent.Unit) (netcontent.Weight, error) {
	if l.Face.Ounces == 0 {
		return 0, &stock.StateError{Resource: l.Name(), State: "WITHOUT_NET_CONTENT", Action: "checked: it gives no net content"}
	}
	if unit == netcontent.Gram {
		return netcontent.Weight(l.Face.Grams * tenThousandths / 10), nil
	}
	// Half up: sixteenths of a hundredth are not decimal.
	const whole = ouncesInAPound * hundredthsOunce
	return netcontent.Weight((l.Face.Ounces*tenThousandths + whole/2) / whole), nil
}

// AsPrinted fails with a *DeclaredError for a sample judged by another net content than its label gives: else a smaller number would
// let a short lot pass. A label of before net contents were recorded gives none.
func AsPrinted(l label.Label, s netcontent.Sample) error {
	if l.Face.Ounces == 0 {
		return nil
	}
	printed, err := Declared(l, s.Unit)
	if err == nil && printed != s.Declared {
		return &DeclaredError{Label: l.Name(), Printed: printed, Asked: s.Declared, Unit: s.Unit}
	}
	return err
}

// DeclaredError means that a sample was to be judged by another net content than the label's.
type DeclaredError struct {
	Label          string
	Printed, Asked netcontent.Weight
	Unit           netcontent.Unit
}

// Error gives both.
func (e *DeclaredError) Error() string {
	return fmt.Sprintf("is %s %s, but %s says %s %s", e.Asked, e.Unit, e.Label, e.Printed, e.Unit)
}

// Reason is the wire reason.
func (e *DeclaredError) Reason() string { return "FIELD_INVALID" }

// Field is what is wrong.
func (e *DeclaredError) Field() string { return "declared" }

// Metadata repeats what the label says.
func (e *DeclaredError) Metadata() map[string]string {
	return map[string]string{"field": e.Field(), "declared": e.Printed.String()}
}

// Judge stops the run where the average of the jars is below the label or one is short by more than the maximum allowable variation.
// The comparisons are exact.
func (c Check) Judge() Check {
	c.Variation, _ = netcontent.Variation(c.Declared, c.Unit)
	c.Lowest = slices.Min(c.Weights)
	sum := new(big.Int)
	for _, w := range c.Weights {
		sum.Add(sum, big.NewInt(int64(w)))
	}
	n := int64(len(c.Weights))
	low := sum.Cmp(big.NewInt(int64(c.Declared)*n)) < 0
	c.Average = netcontent.Weight(sum.Add(sum, big.NewInt(n/2)).Div(sum, big.NewInt(n)).Int64())
	short := c.Lowest < c.Declared-c.Variation
	c.Stopped = low || short
	c.Sentence = c.say(low, short)
	return c
}

func (c Check) say(low, short bool) string {
	figures := fmt.Sprintf("average %s %s against %s on the label, lightest jar %s, least allowed %s", c.Average, c.Unit, c.Declared, c.Lowest, c.Declared-c.Variation)
	switch {
	case short:
		return "a jar is short by more than the maximum allowable variation: " + figures
	case low:
		return "the average is below the label: " + figures
	default:
		return "keep going: " + figures
	}
}
