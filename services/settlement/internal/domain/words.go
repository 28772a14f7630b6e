package domain

import (
	"strings"
	"unicode"

	"barrelhead.example/services/kit/quantity"
)

// Terms are the cooperative's unit and currency.
type Terms struct {
	Unit     quantity.Unit
	Currency string
}

func (t Terms) unit() string { return t.Unit.Word() }

func (t Terms) mass(m quantity.Mass) string { return m.Say(t.Unit) }

// Mass is a weight as people read it, e.g. "15,391.5 lb".
func (t Terms) Mass(m quantity.Mass) string { return t.mass(m) }

// Price is what a unit of weight costs as people read it, e.g. "$1.10 per lb".
func (t Terms) Price(p quantity.Price) string { return t.price(p) + " per " + t.unit() }

// Money is an amount as people read it, e.g. "$1,521.84".
func (t Terms) Money(m quantity.Money) string { return t.money(m) }

func (t Terms) money(m quantity.Money) string { return t.signed(m.String()) }

func (t Terms) price(p quantity.Price) string { return t.signed(p.String()) }

// signed writes the sign before the currency, with the minus of print rather than the hyphen.
func (t Terms) signed(decimal string) string {
	unsigned, negative := strings.CutPrefix(decimal, "-")
	sign := ""
	if negative {
		sign = "−"
	}
	if t.Currency == "USD" {
		return sign + "$" + quantity.Grouped(unsigned)
	}
	return sign + quantity.Grouped(unsigned) + " " + t.Currency
}

// inWords names a price cell, e.g. "buckwheat, dark amber, grade C".
func inWords(variety, color, grade string) string {
	if variety == "" {
		variety = "any other source"
	}
	return ClassInWords(variety, color, grade)
}

// ClassInWords names honey of one kind, e.g. "any source, extra light amber, grade A".
func ClassInWords(variety, color, grade string) string {
	return variety + ", " + lower(color) + ", " + gradeInWords(grade)
}

func gradeInWords(grade string) string {
	if len(grade) == 1 {
		return "grade " + grade
	}
	return lower(grade)
}

// lower turns a name of the wire into words: "EXTRA_LIGHT_AMBER" is "extra light amber".
func lower(name string) string { return strings.ToLower(strings.ReplaceAll(name, "_", " ")) }

// sentence starts with a capital letter.
func sentence(s string) string {
	for i, r := range s {
		return string(unicode.ToUpper(r)) + s[i+len(string(r)):]
	}
	return s
}
