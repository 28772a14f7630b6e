package domain

import (
	"fmt"

	"barrelhead.example/services/kit/quantity"
)

// Band is the usual range of a weight, both ends included. Outside it a weight is possible, but somebody must say why.
type Band struct {
	Low  quantity.Mass `json:"low"`
	High quantity.Mass `json:"high"`
}

func (b Band) holds(m quantity.Mass) bool { return b.Low <= m && m <= b.High }

// Bands are the usual weights of the containers a dock receives, in the cooperative's unit.
type Bands struct {
	Net  Band `json:"net"`
	Tare Band `json:"tare"`
}

// SteelDrum are the bands of a 55-gallon steel drum (common practice, no source): net 560 to 700 lb, tare 38 to 55 lb; in
// kilograms the same, rounded to a tenth.
func SteelDrum(unit quantity.Unit) Bands {
	if unit == quantity.KG {
		return Bands{Net: Band{254_000, 317_500}, Tare: Band{17_200, 24_900}}
	}
	return Bands{Net: Band{560_000, 700_000}, Tare: Band{38_000, 55_000}}
}

// Validate refuses bands a configuration turned upside down.
func (b Bands) Validate() error {
	for name, band := range map[string]Band{"net": b.Net, "tare": b.Tare} {
		if band.Low <= 0 || band.High < band.Low {
			return fmt.Errorf("the usual %s from %s to %s is not a range above zero", name, band.Low, band.High)
		}
	}
	return nil
}
