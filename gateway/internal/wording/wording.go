// Package wording writes values of the wire as people read them, on the screen and on paper alike. It only writes what it is
// given: arithmetic belongs to the services.
package wording

import (
	"fmt"
	"strings"
	"time"

	"google.golang.org/protobuf/reflect/protoreflect"

	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/quantity"
)

const (
	// None stands where there is nothing to say, so that an empty cell is not taken for a misprint.
	None = "–"
	// Minus is the sign people read; a hyphen is lost at the end of a line.
	Minus = "−"
)

// Style is where a value is read.
type Style struct{ gap string }

// Styles of the house: a screen must not break a line between a number and its unit, paper lays out its own lines.
var (
	Screen = Style{gap: "\u00a0"}
	Paper  = Style{gap: " "}
)

// Mass writes "15,391.5 lb".
func (s Style) Mass(m *typev1.Mass) string {
	if m == nil {
		return None
	}
	return Grouped(m.GetValue()) + s.gap + strings.ToLower(m.GetUnit())
}

// Money writes "$1,521.84" and "−$704.00"; currencies without a sign of their own get their code.
func (s Style) Money(m *typev1.Money) string {
	if m == nil {
		return None
	}
	sign, amount := signed(m.GetAmount())
	return sign + s.currency(m.GetCurrencyCode()) + Grouped(amount)
}

// Price writes "$1.10 per lb".
func (s Style) Price(p *typev1.Price) string {
	if p == nil {
		return None
	}
	sign, amount := signed(p.GetAmount())
	return sign + s.currency(p.GetCurrencyCode()) + amount + " per" + s.gap + strings.ToLower(p.GetPerUnit())
}

func (s Style) currency(code string) string {
	switch code {
	case "USD", "CAD", "AUD", "NZD":
		return "$"
	case "EUR":
		return "€"
	case "GBP":
		return "£"
	default:
		return code + s.gap
	}
}

func signed(number string) (sign, rest string) {
	if rest, below := strings.CutPrefix(number, "-"); below {
		return Minus, rest
	}
	return "", number
}

// Grouped puts commas between thousands.
func Grouped(number string) string {
	sign, number := signed(number)
	return sign + quantity.Grouped(number)
}

// Day writes a local date "2026-09-14" as "14 Sep 2026", and what is no date as it is.
func Day(date string) string {
	t, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return date
	}
	return t.Format("2 Jan 2006")
}

// Month writes a month "2026-09" as "September 2026", and what is no month as it is.
func Month(month string) string {
	t, err := time.Parse("2006-01", month)
	if err != nil {
		return month
	}
	return t.Format("January 2006")
}

// Words turns a value of the wire into words: EXTRA_LIGHT_AMBER into "extra light amber", an enum without its type.
func Words(value any) string {
	text := fmt.Sprint(value)
	if enum, is := value.(protoreflect.Enum); is {
		text = strings.TrimPrefix(text, prefixOf(enum.Descriptor()))
	}
	return spelling.Replace(strings.ToLower(strings.ReplaceAll(text, "_", " ")))
}

// prefixOf an enum is what all of its values begin with; the first of them is its UNSPECIFIED.
func prefixOf(enum protoreflect.EnumDescriptor) string {
	return strings.TrimSuffix(string(enum.Values().Get(0).Name()), "UNSPECIFIED")
}

// spelling is that of the pages; the wire has its own.
var spelling = strings.NewReplacer("color", "colour", "flavor", "flavour")

// Plural writes "1 barrel", "1,200 barrels".
func Plural(n any, one, many string) string {
	text := fmt.Sprint(n)
	if text == "1" {
		return "1 " + one
	}
	return Grouped(text) + " " + many
}

// Last is the part of a resource name that people know: "M-0012", "1", the blind code.
func Last(name string) string { return name[strings.LastIndex(name, "/")+1:] }
