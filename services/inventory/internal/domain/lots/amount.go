package lots

import (
	"cmp"
	"strconv"

	"barrelhead.example/services/kit/quantity"
)

// Amount is jars, or a weight of honey, which has a unit.
type Amount struct {
	Jars int64
	Mass quantity.Mass
	Unit quantity.Unit
}

// Say is the amount as people write it: "1,200 jars", "1,200.0 lb".
func (a Amount) Say() string {
	if a.Unit == "" {
		return quantity.Count(a.Jars, "jar")
	}
	return a.Mass.Say(a.Unit)
}

// Number is the amount as programs read it, without thousands and unit.
func (a Amount) Number() string {
	if a.Unit == "" {
		return strconv.FormatInt(a.Jars, 10)
	}
	return a.Mass.String()
}

// none tells whether it is nothing.
func (a Amount) none() bool { return a.Jars == 0 && a.Mass == 0 }

// Called is a place as people of the floor call it, by what they know it by: the tag of a drum, the code of a charge or a lot.
func Called(p Place, as string) string {
	word, known := map[Kind]string{Barrel: "drum ", Charge: "charge ", Pack: "lot "}[p.Kind()]
	if !known || as == "" {
		return string(p)
	}
	return word + as
}

// orName is what people call a place, or its name where nothing better is known.
func orName(called string, p Place) string {
	return cmp.Or(called, string(p))
}
