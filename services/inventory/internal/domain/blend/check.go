package blend

import "fmt"

// Fault is a limit of an order that cannot be meant as written.
type Fault struct{ field, message string }

// Error is the message for people.
func (f *Fault) Error() string { return f.message }

// Reason is the wire reason.
func (f *Fault) Reason() string { return "FIELD_INVALID" }

// Metadata repeats the field.
func (f *Fault) Metadata() map[string]string { return map[string]string{"field": f.field} }

// Field is the field of the order, as in the contract.
func (f *Fault) Field() string { return f.field }

// In names the place of the order in a request, e.g. In("orders[0].").
func (f *Fault) In(place string) *Fault { return &Fault{place + f.field, f.message} }

// Check lists everything wrong with an order by itself.
func (o *Order) Check() []*Fault {
	var faults []*Fault
	wrong := func(is bool, field, format string, args ...any) {
		if is {
			faults = append(faults, &Fault{field, fmt.Sprintf(format, args...)})
		}
	}
	wrong(o.MinWeight <= 0, "min_weight", "is %s: a charge weighs more than nothing", o.MinWeight)
	wrong(o.MaxWeight < o.MinWeight, "max_weight", "is %s, below the least weight %s", o.MaxWeight, o.MinWeight)
	if o.MinMoisture != nil && o.MaxMoisture != nil {
		wrong(*o.MaxMoisture < *o.MinMoisture, "max_moisture_percent", "is %s, below the least water %s", o.MaxMoisture, o.MinMoisture)
	}
	if o.MinDensity != nil && o.MaxDensity != nil {
		wrong(*o.MaxDensity < *o.MinDensity, "max_pfund_mm", "is lighter than the lightest colour allowed")
	}
	wrong(o.MinShare < 0 || o.MinShare > 100_00, "min_share_percent", "is %s: a share is from 0 to 100 percent", o.MinShare)
	wrong(o.MinShare > 0 && o.Variety == "", "variety", "is missing: a least share needs the floral source it is of")
	return faults
}
