// Package wire turns the exact numbers of the house into the decimal strings that travel, and back. A deployment works in
// one unit and one currency; a message in another is refused and never converted behind the sender's back.
package wire

import (
	"errors"
	"fmt"

	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/quantity"
)

// Fault is a number on the wire that cannot be used. Its reason is FIELD_INVALID.
type Fault struct {
	field string
	err   error
}

// In names the request field that holds the faulty number, e.g. In("gross", err). A fault that already names a field
// gets it as a prefix, so that nested messages add up to "lines.gross"; nil stays nil.
func In(field string, err error) error {
	if err == nil {
		return nil
	}
	var inner *Fault
	if errors.As(err, &inner) {
		if inner.field != "" {
			field += "." + inner.field
		}
		err = inner.err
	}
	return &Fault{field: field, err: err}
}

// Error is the message for people, without the field: the caller shows that beside it.
func (f *Fault) Error() string { return f.err.Error() }

// Unwrap gives the cause, e.g. quantity.ErrDigits.
func (f *Fault) Unwrap() error { return f.err }

// Reason is the wire reason.
func (f *Fault) Reason() string { return "FIELD_INVALID" }

// Metadata repeats the field.
func (f *Fault) Metadata() map[string]string { return map[string]string{"field": f.field} }

// Field is the path of the field in the request, or "".
func (f *Fault) Field() string { return f.field }

// MassToProto writes m, which is in unit.
func MassToProto(m quantity.Mass, unit quantity.Unit) *typev1.Mass {
	return &typev1.Mass{Value: m.String(), Unit: string(unit)}
}

// MassFromProto reads a mass that must be in unit. It fails with a *Fault.
func MassFromProto(p *typev1.Mass, unit quantity.Unit) (quantity.Mass, error) {
	if p == nil {
		return 0, missing("mass")
	}
	if p.GetUnit() != string(unit) {
		return 0, In("unit", fmt.Errorf("the unit is %q, but this cooperative weighs in %s", p.GetUnit(), unit))
	}
	m, err := quantity.ParseMass(p.GetValue())
	return m, In("value", err)
}

// MoneyToProto writes m, which is in the currency with this ISO 4217 code.
func MoneyToProto(m quantity.Money, currency string) *typev1.Money {
	return &typev1.Money{Amount: m.String(), CurrencyCode: currency}
}

// MoneyFromProto reads an amount that must be in currency. It fails with a *Fault.
func MoneyFromProto(p *typev1.Money, currency string) (quantity.Money, error) {
	if p == nil {
		return 0, missing("amount")
	}
	if p.GetCurrencyCode() != currency {
		return 0, wrongCurrency(p.GetCurrencyCode(), currency)
	}
	m, err := quantity.ParseMoney(p.GetAmount())
	return m, In("amount", err)
}

// MostEntered is the largest amount a person may enter, either way: 1,000,000,000.00. A count of cents holds 92 million such records; of
// those the 15 digits on the wire allow, a hundred are more than it can add up, and records are never taken back. Common practice, no
// source.
const MostEntered = quantity.Money(1_000_000_000_00)

// EnteredFromProto is MoneyFromProto for what a person enters.
func EnteredFromProto(p *typev1.Money, currency string) (quantity.Money, error) {
	m, err := MoneyFromProto(p, currency)
	if err == nil && (m > MostEntered || m < -MostEntered) {
		err = In("amount", fmt.Errorf("is %s, must be at most %s; were digits typed twice?", m, MostEntered))
		if m < 0 {
			err = In("amount", fmt.Errorf("is %s, must be at least %s; were digits typed twice?", m, -MostEntered))
		}
	}
	return m, err
}

// PriceToProto writes p, which is in currency per unit.
func PriceToProto(p quantity.Price, currency string, unit quantity.Unit) *typev1.Price {
	return &typev1.Price{Amount: p.String(), CurrencyCode: currency, PerUnit: string(unit)}
}

// PriceFromProto reads a price that must be in currency per unit. It fails with a *Fault.
func PriceFromProto(p *typev1.Price, currency string, unit quantity.Unit) (quantity.Price, error) {
	if p == nil {
		return 0, missing("price")
	}
	if p.GetCurrencyCode() != currency {
		return 0, wrongCurrency(p.GetCurrencyCode(), currency)
	}
	if p.GetPerUnit() != string(unit) {
		return 0, In("per_unit", fmt.Errorf("the price is per %q, but this cooperative prices per %s", p.GetPerUnit(), unit))
	}
	v, err := quantity.ParsePrice(p.GetAmount())
	return v, In("amount", err)
}

func missing(what string) error {
	return &Fault{err: fmt.Errorf("the %s is missing", what)}
}

func wrongCurrency(got, want string) error {
	return In("currency_code", fmt.Errorf("the currency is %q, but this cooperative pays in %s", got, want))
}
