package office

import (
	"cmp"
	"slices"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	"barrelhead.example/gateway/internal/wording"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

// priceTable is the prices of one source: a line for each colour and a column for each grade, so that a whole schedule fits on a
// phone and neighbours can be compared.
type priceTable struct {
	Source string
	// Per is the unit of all its prices.
	Per    string
	Grades []string
	Lines  []priceLine
}

type priceLine struct {
	Colour string
	Cells  []priceCell
}

// priceCell has an address of its own, for whoever asks where a price is from. Text is empty where there is no price.
type priceCell struct{ ID, Text string }

// anySource is how a price that is of no one source is called where it rests on another page.
const anySource = "any other source"

// priced is a row of prices as services list them.
type priced interface {
	GetVariety() string
	GetColorClass() string
	GetGrade() string
}

// priceTables sorts rows by source, in the order they come in.
func priceTables[R priced](rows []R, of func(R) *typev1.Price) []*priceTable {
	rest := "Any source"
	if slices.ContainsFunc(rows, func(r R) bool { return r.GetVariety() != "" }) {
		rest = "Any other source"
	}
	var tables []*priceTable
	for _, r := range rows {
		source := cmp.Or(r.GetVariety(), rest)
		at := slices.IndexFunc(tables, func(t *priceTable) bool { return t.Source == source })
		if at < 0 {
			at, tables = len(tables), append(tables, &priceTable{Source: source, Per: wording.Words(of(r).GetPerUnit())})
		}
		tables[at].put(r, of(r))
	}
	return tables
}

func (t *priceTable) put(r priced, p *typev1.Price) {
	colour, grade := wording.Words(r.GetColorClass()), site.GradeWord(r.GetGrade())
	column := slices.Index(t.Grades, grade)
	if column < 0 {
		column, t.Grades = len(t.Grades), append(t.Grades, grade)
	}
	line := slices.IndexFunc(t.Lines, func(l priceLine) bool { return l.Colour == colour })
	if line < 0 {
		line, t.Lines = len(t.Lines), append(t.Lines, priceLine{Colour: colour})
	}
	for i := range t.Lines {
		for len(t.Lines[i].Cells) < len(t.Grades) {
			t.Lines[i].Cells = append(t.Lines[i].Cells, priceCell{})
		}
	}
	t.Lines[line].Cells[column] = priceCell{
		ID:   priceAnchor(cmp.Or(r.GetVariety(), anySource) + ", " + wording.Words(r.GetColorClass()) + ", " + gradeInWords(r.GetGrade())),
		Text: wording.Screen.Money(&typev1.Money{Amount: p.GetAmount(), CurrencyCode: p.GetCurrencyCode()}),
	}
}

func gradeInWords(grade string) string {
	if len(grade) == 1 {
		return "grade " + grade
	}
	return wording.Words(grade)
}

// priceAnchor is the address of a price by what explanations call its row: "any other source, amber, grade C".
func priceAnchor(row string) string {
	return strings.ReplaceAll(strings.ReplaceAll(strings.ToLower(row), ", ", "-"), " ", "-")
}

func advances(s *settlementv1.Schedule) []*priceTable {
	return priceTables(s.GetRows(), (*settlementv1.PriceRow).GetAdvance)
}

func differentials(p *settlementv1.Pool) []*priceTable {
	return priceTables(p.GetDifferentials(), (*settlementv1.Differential).GetAmount)
}
