package blend

import (
	"barrelhead.example/services/kit/quantity"
)

// Barrel is one barrel that may be used.
type Barrel struct {
	// ID settles ties; no two barrels share one.
	ID string
	// Weight is the net weight, above zero.
	Weight quantity.Mass
	// Moisture is the water in hundredths of a percent.
	Moisture quantity.Percent
	// Density is the colour as optical density; see DensityOf.
	Density Density
	// Variety is the floral source.
	Variety string
	// Member delivered it.
	Member string
	// CropYear of the honey; see Order.AgedCropYear.
	CropYear int32
	// Value is what a unit of its honey could fetch elsewhere.
	Value quantity.Price
	// Credit is taken off the cost of using the barrel, e.g. for its age: the older, the sooner it should go.
	Credit quantity.Money
}

// Step is what a part of a barrel is a multiple of: a tenth of the unit, as drums are weighed.
const Step quantity.Mass = 100

// unlimited is a weight no charge reaches.
const unlimited quantity.Mass = maxTotal

// Order is one tank charge to be filled. A nil limit does not apply.
type Order struct {
	// ID names the order in messages.
	ID string
	// MinWeight and MaxWeight bound the weight of the charge, limits included.
	MinWeight, MaxWeight quantity.Mass
	// MinMoisture and MaxMoisture bound the water of the blend, weighted by mass.
	MinMoisture, MaxMoisture *quantity.Percent
	// MinDensity and MaxDensity bound the colour of the blend, weighted by mass.
	MinDensity, MaxDensity *Density
	// Variety and MinShare ask that at least this share of the mass is of one floral source.
	Variety  string
	MinShare quantity.Percent
	// MaxAged is the most barrels of AgedCropYear or older, whose HMF has had time to rise.
	MaxAged      *int64
	AgedCropYear int32
	// MaxMembers is the most members whose honey may be in the charge: a recall reaches all of them. 0 means any number.
	MaxMembers int64
	// PartBarrel allows one of the barrels to be used in part, in steps of Step. It is planned for one order at a time.
	PartBarrel bool
	// Price is what the order pays for a unit of mass. Value above it is given away; value below it is gained.
	Price quantity.Price
}

// Limit names a limit of an order in findings.
type Limit string

// The limits.
const (
	MinWeight   Limit = "MIN_WEIGHT"
	MaxWeight   Limit = "MAX_WEIGHT"
	MinMoisture Limit = "MIN_MOISTURE"
	MaxMoisture Limit = "MAX_MOISTURE"
	MinColor    Limit = "MIN_COLOR"
	MaxColor    Limit = "MAX_COLOR"
	MinShare    Limit = "MIN_SHARE"
	MaxAged     Limit = "MAX_AGED"
	MaxMembers  Limit = "MAX_MEMBERS"
)

// aged reports whether the barrel counts against MaxAged.
func (o *Order) aged(b *Barrel) bool { return b.CropYear <= o.AgedCropYear }

// cost is what using the whole barrel gives away, less its credit, in minor units of the currency.
func (o *Order) cost(b *Barrel) (int64, error) {
	value, err := b.Value.Times(b.Weight)
	if err != nil {
		return 0, err
	}
	paid, err := o.Price.Times(b.Weight)
	if err != nil {
		return 0, err
	}
	return int64(value - paid - b.Credit), nil
}
