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
		return "a weight of at least " + o.MinWeight.Say(unit)
	case MaxWeight:
		return "a weight of at most " + o.MaxWeight.Say(unit)
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
		return fmt.Sprintf("at most %s of %d or older", quantity.Count(*o.MaxAged, "barrel"), o.AgedCropYear)
	case MaxMembers:
		return "at most " + quantity.Count(o.MaxMembers, "member")
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

// Say is a number of a limit as people write it, with its unit.
func (l Limit) Say(number string, mass quantity.Unit) string {
	if l == MinWeight || l == MaxWeight {
		return quantity.Grouped(number) + " " + mass.Word()
	}
	return number + " " + l.Unit(mass)
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
