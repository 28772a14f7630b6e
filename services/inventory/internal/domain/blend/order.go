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
	// HMF is the hydroxymethylfurfural measured, nil while it is not known, and MeasureDay the day of that, counted from any
	// one day: see Order.MaxHMF.
	HMF        *HMF
	MeasureDay int64
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
	// MaxHMF bounds the hydroxymethylfurfural the blend will have on BestByDay, weighted by mass: what was measured in each
	// barrel and what it gains until then. A barrel that was not measured cannot be used. DaysToGain is how long honey takes
	// in store to gain GainHMF; 0 for no gain.
	MaxHMF     *HMF
	BestByDay  int64
	DaysToGain int64
	// Groups ask for shares of barrels that are listed.
	Groups []Group
	// MaxMembers is the most members whose honey may be in the charge: a recall reaches all of them. 0 means any number.
	MaxMembers int64
	// PartBarrel allows one of the barrels to be used in part, in steps of Step. It is planned for one order at a time.
	PartBarrel bool
	// Price is what the order pays for a unit of mass. Value above it is given away; value below it is gained.
	Price quantity.Price
	// Must is a barrel that has to be used, whole; "" for none.
	Must string
}

// HMF is hydroxymethylfurfural in tenths of mg/kg.
type HMF int64

// String is the content in mg/kg, e.g. "12.4".
func (h HMF) String() string { return quantity.FormatFixed(int64(h), 1, 1) }

// GainHMF is what Order.DaysToGain is counted for: 30 mg/kg, as the published tables do.
const GainHMF HMF = 30_0

// Group asks for a share of the mass from barrels that are listed, e.g. an origin or a certified claim.
type Group struct {
	// Name tells the groups of an order apart.
	Name    string
	Barrels map[string]bool // by id
	// Min and Max bound the share; nil for no limit.
	Min, Max *quantity.Percent
}

// aged reports whether the barrel counts against MaxAged.
func (o *Order) aged(b *Barrel) bool { return b.CropYear <= o.AgedCropYear }

// hmf is what the barrel will have on the best-by day, rounded up; unknown is 0, since such a barrel is kept out by a row
// of its own.
func (o *Order) hmf(b *Barrel) int64 {
	if b.HMF == nil {
		return 0
	}
	if o.DaysToGain <= 0 {
		return int64(*b.HMF)
	}
	return int64(*b.HMF) + ceilDiv(max(0, o.BestByDay-b.MeasureDay)*int64(GainHMF), o.DaysToGain)
}

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
