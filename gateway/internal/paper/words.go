package paper

import (
	"strings"

	"google.golang.org/protobuf/types/known/timestamppb"

	"barrelhead.example/gateway/internal/wording"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

const none = wording.None

// The house's wording as paper carries it.
var (
	mass   = wording.Paper.Mass
	money  = wording.Paper.Money
	price  = wording.Paper.Price
	words  = wording.Words
	plural = wording.Plural
	last   = wording.Last
)

// bare writes a mass without its unit, for a column that names it.
func bare(m *typev1.Mass) string {
	if m == nil {
		return none
	}
	return wording.Grouped(m.GetValue())
}

func day(date string) string { return orNone(wording.Day(date)) }

func (p *press) minute(t *timestamppb.Timestamp) string { return p.in(t, "2 Jan 2006 15:04") }

func (p *press) hour(t *timestamppb.Timestamp) string { return p.in(t, "15:04") }

// in writes an instant in the cooperative's own time.
func (p *press) in(t *timestamppb.Timestamp, layout string) string {
	if t == nil {
		return none
	}
	return t.AsTime().In(p.zone).Format(layout)
}

func orNone(text string) string {
	if strings.TrimSpace(text) == "" {
		return none
	}
	return text
}
