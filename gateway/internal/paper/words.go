package paper

import (
	"fmt"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

// none stands where there is nothing to say, so that an empty cell is not taken for a misprint.
const none = "–"

// minus is the sign people read; a hyphen is lost at the end of a line.
const minus = "−"

// mass writes "15,391.5 lb".
func mass(m *typev1.Mass) string {
	if m == nil {
		return none
	}
	return grouped(m.GetValue()) + " " + strings.ToLower(m.GetUnit())
}

// bare writes a mass without its unit, for a column that names it.
func bare(m *typev1.Mass) string {
	if m == nil {
		return none
	}
	return grouped(m.GetValue())
}

// money writes "$1,521.84" and "−$704.00"; currencies without a sign of their own get their code.
func money(m *typev1.Money) string {
	if m == nil {
		return none
	}
	sign, amount := split(m.GetAmount())
	return sign + currency(m.GetCurrencyCode()) + grouped(amount)
}

// price writes "$1.10 per lb".
func price(p *typev1.Price) string {
	if p == nil {
		return none
	}
	sign, amount := split(p.GetAmount())
	return sign + currency(p.GetCurrencyCode()) + amount + " per " + strings.ToLower(p.GetPerUnit())
}

func split(number string) (sign, rest string) {
	if rest, below := strings.CutPrefix(number, "-"); below {
		return minus, rest
	}
	return "", number
}

func currency(code string) string {
	switch code {
	case "USD", "CAD", "AUD", "NZD":
		return "$"
	case "EUR":
		return "€"
	case "GBP":
		return "£"
	default:
		return code + " "
	}
}

// grouped puts commas between thousands.
func grouped(number string) string {
	sign, number := split(number)
	whole, fraction, has := strings.Cut(number, ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if has {
		whole += "." + fraction
	}
	return sign + whole
}

// day writes a local date "2026-09-14" as "14 Sep 2026".
func day(date string) string {
	t, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return orNone(date)
	}
	return t.Format("2 Jan 2006")
}

func (p *press) minute(t *timestamppb.Timestamp) string { return p.in(t, "2 Jan 2006 15:04") }

func (p *press) hour(t *timestamppb.Timestamp) string { return p.in(t, "15:04") }

// in writes an instant in the cooperative's own time.
func (p *press) in(t *timestamppb.Timestamp, layout string) string {
	if t == nil {
		return none
	}
	return t.AsTime().In(p.zone).Format(layout)
}

var enumPrefixes = []string{"TICKET_STATE_", "TARE_KIND_", "READING_KIND_", "FACTOR_", "STYLE_", "PAYOUT_KIND_", "LINE_KIND_"}

// words turns a value of the wire into words: EXTRA_LIGHT_AMBER, TARE_KIND_STENCILLED.
func words(value any) string {
	text := fmt.Sprint(value)
	for _, prefix := range enumPrefixes {
		text = strings.TrimPrefix(text, prefix)
	}
	return spelling.Replace(strings.ToLower(strings.ReplaceAll(text, "_", " ")))
}

// spelling is that of the pages; the wire has its own.
var spelling = strings.NewReplacer("color", "colour", "flavor", "flavour")

// last is the part of a resource name that people know: "M-0012", "1", the blind code.
func last(name string) string { return name[strings.LastIndex(name, "/")+1:] }

func orNone(text string) string {
	if text == "" {
		return none
	}
	return text
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return grouped(fmt.Sprint(n)) + " " + many
}
