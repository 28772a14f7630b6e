package blend

import (
	"fmt"
	"strconv"

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
		return fmt.Sprintf("a colour no lighter than %s mm", reads(*o.MinDensity))
	case MaxColor:
		return fmt.Sprintf("a colour no darker than %s mm", reads(*o.MaxDensity))
	case MinShare:
		return fmt.Sprintf("at least %s %% %s", o.MinShare, o.Variety)
	case MaxAged:
		return fmt.Sprintf("at most %d barrels of %d or older", *o.MaxAged, o.AgedCropYear)
	case MaxMembers:
		return fmt.Sprintf("at most %d members", o.MaxMembers)
	case MaxHMF:
		return fmt.Sprintf("HMF of at most %s mg/kg on the best-by day", o.MaxHMF)
	default:
		return o.groupWords(l)
	}
}

func (o *Order) groupWords(l Limit) string {
	v, _ := o.groupValue(l)
	kind, name := l.Split()
	if kind == minGroup {
		return fmt.Sprintf("at least %s %% %s", quantity.Percent(v), name)
	}
	return fmt.Sprintf("at most %s %% %s", quantity.Percent(v), name)
}

// Number says a value of a limit the way a request writes it.
func (l Limit) Number(v int64) string {
	switch l {
	case MinWeight, MaxWeight:
		return quantity.Mass(v).String()
	case MinColor, MaxColor:
		return quantity.FormatFixed(v, 2, 1)
	case MaxHMF:
		return HMF(v).String()
	case MaxAged, MaxMembers:
		return strconv.FormatInt(v, 10)
	default:
		return quantity.Percent(v).String()
	}
}

// Unit is what Number counts in.
func (l Limit) Unit(mass quantity.Unit) string {
	switch l {
	case MinWeight, MaxWeight:
		return string(mass)
	case MinColor, MaxColor:
		return "mm"
	case MaxHMF:
		return "mg/kg"
	case MaxAged:
		return "barrels"
	case MaxMembers:
		return "members"
	default:
		return "%"
	}
}
