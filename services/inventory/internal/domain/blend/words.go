package blend

import (
	"fmt"

	"barrelhead.example/services/kit/quantity"
)

// Words says a limit of the order with its number, to complete "… keeps".
func (o *Order) Words(l Limit, unit quantity.Unit) string {
	switch l {
	case MinWeight:
		return fmt.Sprintf("a weight of at least %s %s", o.MinWeight, unit)
	case MaxWeight:
		return fmt.Sprintf("a weight of at most %s %s", o.MaxWeight, unit)
	case MinMoisture:
		return fmt.Sprintf("water of at least %s %%", o.MinMoisture)
	case MaxMoisture:
		return fmt.Sprintf("water of at most %s %%", o.MaxMoisture)
	case MinColor:
		return fmt.Sprintf("a colour no lighter than %s mm", PfundOf(*o.MinDensity))
	case MaxColor:
		return fmt.Sprintf("a colour no darker than %s mm", PfundOf(*o.MaxDensity))
	case MinShare:
		return fmt.Sprintf("at least %s %% %s", o.MinShare, o.Variety)
	case MaxAged:
		return fmt.Sprintf("at most %d barrels of %d or older", *o.MaxAged, o.AgedCropYear)
	case MaxMembers:
		return fmt.Sprintf("at most %d members", o.MaxMembers)
	default:
		return string(l)
	}
}
