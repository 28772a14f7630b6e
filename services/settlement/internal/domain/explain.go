package domain

import (
	"fmt"
	"strconv"

	"barrelhead.example/services/kit/quantity"
)

// explainer puts the numbers of one priced barrel into words.
type explainer struct {
	terms       Terms
	schedule    *Schedule
	barrel      Delivered
	certificate Certificate
	amounts     Amounts
}

func (e explainer) lines() []Line {
	lines := []Line{e.honey()}
	if e.amounts.Step != 0 {
		lines = append(lines, e.step())
	}
	for i := range e.schedule.Charges {
		lines = append(lines, e.charge(i))
	}
	return lines
}

// why starts an explanation that rests on the certificate.
func (e explainer) why(rule, calculation string, inputs map[string]string) Explanation {
	inputs["net"] = e.terms.mass(e.barrel.Net)
	inputs["moisture_percent"] = e.certificate.Water.String()
	return Explanation{
		Rule: rule, Calculation: calculation, Authority: e.schedule.Resolution,
		Certificate: "certificates/" + e.certificate.ID.String(), CertificateNumber: e.certificate.Number,
		Inputs: inputs, Readings: e.certificate.Readings,
	}
}

func (e explainer) honey() Line {
	row, payable := e.schedule.Rows[e.amounts.Row], e.amounts.Payable
	product := fmt.Sprintf("%s × %s = %s", e.terms.mass(payable), e.terms.price(row.Advance), e.terms.money(e.amounts.Honey))
	rule := fmt.Sprintf("Full weight is paid, because %v %% water is not above %v %%.", e.certificate.Water, e.schedule.Moisture.Base)
	if e.certificate.Water > e.schedule.Moisture.Base {
		rule = fmt.Sprintf("Above %v %% water, the weight of the same honey at %[1]v %% water is paid.", e.schedule.Moisture.Base)
		product = e.shrink() + "; " + product
	}
	rule += " The price is that of the schedule in force on the delivery date, " + string(e.barrel.Date) + "."
	return Line{
		Kind: LineHoney, Description: sentence(inWords(e.barrel.Variety, e.certificate.ColorClass, e.certificate.Grade)),
		Quantity: &payable, Rate: &row.Advance, Amount: e.amounts.Honey,
		Why: e.why(rule, product, map[string]string{
			"base_percent": e.schedule.Moisture.Base.String(),
			"payable":      e.terms.mass(payable),
			"price":        e.terms.price(row.Advance),
			"variety":      e.barrel.Variety,
			"price_row":    inWords(row.Variety, row.ColorClass, row.Grade),
			"color_class":  e.certificate.ColorClass,
			"grade":        e.certificate.Grade,
			"schedule":     e.schedule.title(),
		}),
	}
}

func (e explainer) shrink() string {
	return fmt.Sprintf("%s × (100 − %v) ÷ (100 − %v) = %s",
		e.terms.mass(e.barrel.Net), e.certificate.Water, e.schedule.Moisture.Base, e.terms.mass(e.amounts.Payable))
}

func (e explainer) step() Line {
	per, count := e.schedule.Moisture.Step, e.amounts.Tenths
	rate, payable := per*quantity.Price(count), e.amounts.Payable
	excess := e.certificate.Water - e.schedule.Moisture.Base
	return Line{
		Kind: LineStep, Description: fmt.Sprintf("Water %v %% above %v %%", excess, e.schedule.Moisture.Base),
		Quantity: &payable, Rate: &rate, Amount: e.amounts.Step,
		Why: e.why(
			fmt.Sprintf("%s comes off the price per %s for each full or part 0.1 %% of water above %v %%.",
				e.terms.price(per), e.terms.unit(), e.schedule.Moisture.Base),
			fmt.Sprintf("%v − %v = %v %%, counted as %d × 0.1 %%; %d × %s = %s; %s × %s = %s taken off",
				e.certificate.Water, e.schedule.Moisture.Base, excess, count, count, e.terms.price(per), e.terms.price(rate),
				e.terms.mass(payable), e.terms.price(rate), e.terms.money(-e.amounts.Step)),
			map[string]string{
				"base_percent":   e.schedule.Moisture.Base.String(),
				"step_per_tenth": e.terms.price(per),
				"tenths":         strconv.FormatInt(count, 10),
				"payable":        e.terms.mass(payable),
			}),
	}
}

func (e explainer) charge(i int) Line {
	c, amount := e.schedule.Charges[i], e.amounts.Charges[i]
	l := Line{Kind: LineCharge, Code: c.Code, Description: c.Description, Amount: amount}
	l.Why = Explanation{Authority: c.Authority, Inputs: map[string]string{"charge": c.Code}}
	if c.Retained {
		l.Kind = LineRetain
	}
	if c.Basis == BasisBarrel {
		l.Why.Rule = "Each barrel bears the same amount."
		l.Why.Calculation = fmt.Sprintf("1 barrel × %s = %s taken off", e.terms.money(c.Amount), e.terms.money(-amount))
		l.Why.Inputs["amount"] = e.terms.money(c.Amount)
		return l
	}
	weight, what := e.barrel.Net, "net weight delivered"
	if c.Basis == BasisPayable {
		weight, what = e.amounts.Payable, "payable weight"
	}
	l.Quantity, l.Rate = &weight, &c.Rate
	l.Why.Rule = fmt.Sprintf("The rate applies to the %s.", what)
	if c.Retained {
		l.Why.Rule += " It stays yours, as capital of the cooperative."
	}
	l.Why.Calculation = fmt.Sprintf("%s × %s = %s taken off", e.terms.mass(weight), e.terms.price(c.Rate), e.terms.money(-amount))
	l.Why.Inputs["rate"], l.Why.Inputs["weight"] = e.terms.price(c.Rate), e.terms.mass(weight)
	return l
}

// title names a schedule for people.
func (s *Schedule) title() string {
	return fmt.Sprintf("crop year %d, version %d, from %s", s.CropYear, s.Version, s.Effective)
}
