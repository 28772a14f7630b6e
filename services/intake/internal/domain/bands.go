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

// in gives a band written in pounds in the cooperative's unit; kilograms to a tenth, since no dock scale shows less.
func (b Band) in(unit quantity.Unit) Band {
	if unit == quantity.LB {
		return b
	}
	tenth := func(m quantity.Mass) quantity.Mass {
		return (quantity.ConvertMass(m, quantity.LB, unit) + 50) / 100 * 100
	}
	return Band{tenth(b.Low), tenth(b.High)}
}

// Bands are the usual weights of a container, in the cooperative's unit.
type Bands struct {
	Net  Band `json:"net"`
	Tare Band `json:"tare"`
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

// Container is what honey is brought in.
type Container string

// Unregistered is a drum nobody said more of than its tag.
const (
	Unregistered    Container = ""
	SteelClosedHead Container = "STEEL_CLOSED_HEAD"
	SteelOpenHead   Container = "STEEL_OPEN_HEAD"
	SteelLined      Container = "STEEL_LINED"
	Plastic         Container = "PLASTIC"
	Pail            Container = "PAIL"
	Tote            Container = "TOTE"
)

// usualWeights are in thousandths of a pound (common practice, no source).
var usualWeights = map[Container]struct {
	words string
	bands Bands
}{
	Unregistered:    {"a 55-gallon steel drum", Bands{Band{560_000, 700_000}, Band{38_000, 55_000}}},
	SteelClosedHead: {"a 55-gallon steel drum with bung", Bands{Band{560_000, 700_000}, Band{38_000, 50_000}}},
	SteelOpenHead:   {"a 55-gallon steel drum with lid and ring", Bands{Band{560_000, 700_000}, Band{40_000, 55_000}}},
	SteelLined:      {"a lined 55-gallon steel drum", Bands{Band{560_000, 700_000}, Band{39_000, 58_000}}},
	Plastic:         {"a 55-gallon plastic drum", Bands{Band{560_000, 700_000}, Band{18_000, 25_000}}},
	Pail:            {"a 5-gallon pail", Bands{Band{55_000, 62_000}, Band{2_000, 3_000}}},
	Tote:            {"a 275-gallon tote", Bands{Band{2_900_000, 3_300_000}, Band{120_000, 150_000}}},
}

// Expectations says what a filled drum usually weighs.
type Expectations struct {
	unit quantity.Unit
	// unregistered are the bands of drums nobody registered.
	unregistered Bands
	// tarePolicy is how far a tare may be off what the drum last weighed empty.
	tarePolicy quantity.Mass
}

// Expect makes the expectations of a cooperative. The zero Bands and a zero policy mean the usual ones.
func Expect(unit quantity.Unit, unregistered Bands, tarePolicy quantity.Mass) Expectations {
	if unregistered == (Bands{}) {
		unregistered = usualWeights[Unregistered].bands.in(unit)
	}
	if tarePolicy == 0 {
		tarePolicy = TarePolicy(unit)
	}
	return Expectations{unit, unregistered, tarePolicy}
}

func (b Bands) in(unit quantity.Unit) Bands { return Bands{Net: b.Net.in(unit), Tare: b.Tare.in(unit)} }

// TarePolicy is how far an empty drum may be off its tare before somebody has to look.
func (e Expectations) TarePolicy() quantity.Mass { return e.tarePolicy }

func (e Expectations) bands(c Container) Bands {
	if c == Unregistered {
		return e.unregistered
	}
	return usualWeights[c].bands.in(e.unit)
}
