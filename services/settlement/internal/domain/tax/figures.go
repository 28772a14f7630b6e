// Package tax sorts a member's calendar year into the boxes of Form 1099-PATR, and knows the dated figures of the law that the
// office works with. It is no tax advice: the cooperative's accountant decides.
package tax

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"strings"
	"time"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

//go:embed figures.csv
var figuresFile string

// Figure is one number of the law with the time it holds.
type Figure struct {
	Item  string
	Value string
	// Unit is what the value is of, with … in its place: "$… per lb".
	Unit       string
	From       domain.Date
	Through    domain.Date
	Source     string
	Provenance string
}

// Words of a figure for a reader: what it is, and where it comes from.
func (f Figure) String() string {
	value := quantity.Grouped(f.Value)
	if day, err := time.Parse("01-02", f.Value); err == nil {
		value = day.Format("2 January")
	}
	said := f.Source + " (" + f.Provenance + ")"
	if f.Provenance == "read" {
		said = f.Source + ", read there"
	}
	return fmt.Sprintf("%s: %s, from %s on. Source: %s", f.Item, strings.ReplaceAll(f.Unit, "…", value), f.From, said)
}

// Figures are all of them, in the order of the file.
func Figures() ([]Figure, error) {
	rows, err := csv.NewReader(strings.NewReader(figuresFile)).ReadAll()
	if err != nil {
		return nil, fmt.Errorf("read the figures: %w", err)
	}
	figures := make([]Figure, 0, len(rows))
	for _, r := range rows[1:] {
		figures = append(figures, Figure{r[0], r[1], r[2], domain.Date(r[3]), domain.Date(r[4]), r[5], r[6]})
	}
	return figures, nil
}

// On is the figure of an item on a day. Errors: *domain.StateError where none is known.
func On(item string, day domain.Date) (Figure, error) {
	figures, err := Figures()
	if err != nil {
		return Figure{}, err
	}
	for _, f := range figures {
		if f.Item == item && f.From <= day && (f.Through == "" || day <= f.Through) {
			return f, nil
		}
	}
	return Figure{}, &domain.StateError{Resource: "figures", State: "NO_FIGURE", Message: fmt.Sprintf("no figure for %q is known on %s", item, day)}
}

// The items.
const (
	AssessmentRate      = "assessment"
	AssessmentExemption = "assessment exemption below"
	AssessmentDueDay    = "assessment due day"
	Threshold           = "1099-PATR threshold"
	StatementDue        = "1099-PATR statement due"
)
