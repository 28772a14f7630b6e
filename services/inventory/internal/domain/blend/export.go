package blend

import (
	"bufio"
	"fmt"
	"io"
	"strings"
)

// Format of an exported model.
type Format string

// The formats an outside solver reads.
const (
	// LP is the readable format of columns, rows and operators.
	LP Format = "LP"
	// MPS is the free MPS format, sections of names and numbers.
	MPS Format = "MPS"
)

// Export writes the exact model of orders over barrels for an outside solver: the same whole numbers the planner decides
// by, with the members of each order as columns of their own. Column x<o>_<b> is barrel b of the list, by id, whole in
// order o, both counted from 1; y<o>_<m> is whether order o uses member m. Part barrels are not in the model.
func Export(w io.Writer, format Format, orders []Order, barrels []Barrel) error {
	m, err := newModel(orders, barrels)
	if err != nil {
		return err
	}
	out := bufio.NewWriter(w)
	switch format {
	case LP:
		m.writeLP(out)
	case MPS:
		m.writeMPS(out)
	default:
		return fmt.Errorf("format %q is unknown: use LP or MPS", format)
	}
	return out.Flush()
}

// model is a minimisation over columns of 0 or 1 in the one shape both formats share.
type model struct {
	names []string
	cost  []int64
	rows  []modelRow
	notes []string
}

// modelRow is Σ coef·column ≤ or ≥ bound.
type modelRow struct {
	name  string
	most  bool // ≤
	bound int64
	terms []term
}

type term struct {
	column int
	coef   int64
}

func newModel(orders []Order, barrels []Barrel) (*model, error) {
	m := &model{}
	stock := make([][]term, len(barrels))
	for o := range orders {
		p, err := newProblem(&orders[o], barrels)
		if err != nil {
			return nil, fmt.Errorf("order %s: %w", orders[o].ID, err)
		}
		first := len(m.names)
		for j := range p.barrels {
			m.column(fmt.Sprintf("x%d_%d", o+1, j+1), p.cost[j])
			stock[j] = append(stock[j], term{first + j, 1})
		}
		m.addRows(p, o+1, first)
		m.addMembers(p, o+1, first)
		if o == 0 {
			for j, b := range p.barrels {
				m.notes = append(m.notes, fmt.Sprintf("barrel %d is %s", j+1, b.ID))
			}
		}
	}
	if len(orders) > 1 {
		for j, terms := range stock {
			m.rows = append(m.rows, modelRow{name: fmt.Sprintf("once_%d", j+1), most: true, bound: 1, terms: terms})
		}
	}
	return m, nil
}

func (m *model) column(name string, cost int64) int {
	m.names, m.cost = append(m.names, name), append(m.cost, cost)
	return len(m.names) - 1
}

func (m *model) addRows(p *problem, order, first int) {
	for _, r := range p.rows {
		var terms []term
		for j, c := range r.coef {
			if c != 0 {
				terms = append(terms, term{first + j, c})
			}
		}
		if r.lowLimit != "" && r.low != -free {
			m.rows = append(m.rows, modelRow{rowName(r.lowLimit, order), false, r.low, terms})
		}
		if r.highLimit != "" && r.high != free {
			m.rows = append(m.rows, modelRow{rowName(r.highLimit, order), true, r.high, terms})
		}
	}
}

func rowName(l Limit, order int) string {
	return fmt.Sprintf("%s_%d", strings.ToLower(string(l)), order)
}

func (m *model) addMembers(p *problem, order, first int) {
	if p.members == 0 {
		return
	}
	used := make([]int, p.groups)
	limit := modelRow{name: rowName(MaxMembers, order), most: true, bound: p.members}
	for g := range used {
		used[g] = m.column(fmt.Sprintf("y%d_%d", order, g+1), 0)
		limit.terms = append(limit.terms, term{used[g], 1})
	}
	for j, g := range p.group {
		m.rows = append(m.rows, modelRow{
			name: fmt.Sprintf("member_%d_%d", order, j+1), most: true, terms: []term{{first + j, 1}, {used[g], -1}},
		})
	}
	m.rows = append(m.rows, limit)
}

func (m *model) writeLP(w *bufio.Writer) {
	for _, n := range m.notes {
		fmt.Fprintf(w, "\\ %s\n", n)
	}
	fmt.Fprint(w, "Minimize\n cost:")
	for c, v := range m.cost {
		fmt.Fprintf(w, " %+d %s\n", v, m.names[c])
	}
	fmt.Fprint(w, "Subject To\n")
	for _, r := range m.rows {
		terms := r.terms
		if len(terms) == 0 {
			// The format has no empty rows.
			terms = []term{{0, 0}}
		}
		fmt.Fprintf(w, " %s:", r.name)
		for _, t := range terms {
			fmt.Fprintf(w, " %+d %s\n", t.coef, m.names[t.column])
		}
		fmt.Fprintf(w, " %s %d\n", map[bool]string{true: "<=", false: ">="}[r.most], r.bound)
	}
	fmt.Fprint(w, "Binary\n")
	for _, n := range m.names {
		fmt.Fprintf(w, " %s\n", n)
	}
	fmt.Fprint(w, "End\n")
}

func (m *model) writeMPS(w *bufio.Writer) {
	for _, n := range m.notes {
		fmt.Fprintf(w, "* %s\n", n)
	}
	fmt.Fprint(w, "NAME blend\nROWS\n N cost\n")
	columns := make([][]string, len(m.names))
	for c, v := range m.cost {
		columns[c] = append(columns[c], fmt.Sprintf("cost %d", v))
	}
	for _, r := range m.rows {
		fmt.Fprintf(w, " %s %s\n", map[bool]string{true: "L", false: "G"}[r.most], r.name)
		for _, t := range r.terms {
			columns[t.column] = append(columns[t.column], fmt.Sprintf("%s %d", r.name, t.coef))
		}
	}
	fmt.Fprint(w, "COLUMNS\n M1 'MARKER' 'INTORG'\n")
	for c, entries := range columns {
		for _, e := range entries {
			fmt.Fprintf(w, " %s %s\n", m.names[c], e)
		}
	}
	fmt.Fprint(w, " M2 'MARKER' 'INTEND'\nRHS\n")
	for _, r := range m.rows {
		fmt.Fprintf(w, " rhs %s %d\n", r.name, r.bound)
	}
	fmt.Fprint(w, "BOUNDS\n")
	for _, n := range m.names {
		fmt.Fprintf(w, " BV bound %s\n", n)
	}
	fmt.Fprint(w, "ENDATA\n")
}
