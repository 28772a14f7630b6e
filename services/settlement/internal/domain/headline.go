package domain

import (
	"fmt"

	"barrelhead.example/services/kit/quantity"
)

// headline is the first line a member reads: that all is paid, or what water cost.
func (e explainer) headline() string {
	row, lost := e.schedule.Rows[e.amounts.Row], e.barrel.Net-e.amounts.Payable
	if e.amounts.Tenths == 0 {
		return fmt.Sprintf("Barrel %s is paid on its full weight: %s of %s at %s per %s.", e.barrel.DrumTag, e.terms.mass(e.barrel.Net),
			inWords(e.barrel.Variety, e.certificate.ColorClass, e.certificate.Grade), e.terms.price(row.Advance), e.terms.unit())
	}
	text := fmt.Sprintf("Barrel %s measured %v %% water. Full weight is paid up to %v %%, so %s of %s is not paid%s",
		e.barrel.DrumTag, e.certificate.Water, e.schedule.Moisture.Base, e.terms.mass(lost), e.terms.mass(e.barrel.Net), e.worth(lost, row.Advance))
	if e.amounts.Step != 0 {
		text += fmt.Sprintf(", and the price is %s per %s lower (%s)",
			e.terms.price(e.schedule.Moisture.Step*quantity.Price(e.amounts.Tenths)), e.terms.unit(), e.terms.money(-e.amounts.Step))
	}
	return text + "."
}

// worth is only for reading and so leaves out what cannot be multiplied, which no barrel is.
func (e explainer) worth(lost quantity.Mass, price quantity.Price) string {
	amount, err := price.Times(lost)
	if err != nil {
		return ""
	}
	return fmt.Sprintf(" (about %s)", e.terms.money(amount))
}

func reversalHeadline(p *Payout, reason string, terms Terms) string {
	verb := "takes back"
	amount := p.Net
	if amount < 0 {
		verb, amount = "gives back the charge of", -amount
	}
	return fmt.Sprintf("%s. This %s %s for barrel %s; what stands instead, if anything, is listed beside it.",
		sentence(reason), verb, terms.money(amount), p.Barrel.DrumTag)
}
