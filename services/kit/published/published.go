// Package published loads the check values of testdata/published for tests. Only tests import it: a figure that law may
// change is configuration in a running service, never a constant.
package published

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// Row is one published figure.
type Row struct {
	t     testing.TB
	where string
	cells map[string]string
}

// Load reads a file such as "check_digits.csv". A missing, empty or ragged file fails the test.
func Load(t testing.TB, name string) []Row {
	t.Helper()
	f, err := os.Open(filepath.Join(root(t), "testdata", "published", name))
	if err != nil {
		t.Fatalf("published figures: %v", err)
	}
	defer func() { _ = f.Close() }()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatalf("published figures: %s: %v", name, err)
	}
	if len(lines) < 2 {
		t.Fatalf("published figures: %s holds no rows", name)
	}
	rows := make([]Row, 0, len(lines)-1)
	for _, line := range lines[1:] {
		cells := make(map[string]string, len(line))
		for i, column := range lines[0] {
			cells[column] = line[i]
		}
		rows = append(rows, Row{t: t, where: name + ": " + strings.Join(line, ","), cells: cells})
	}
	return rows
}

// Where keeps the rows whose column starts with prefix. Keeping none fails the test: a loop over nothing checks nothing.
func Where(rows []Row, column, prefix string) []Row {
	kept := slices.DeleteFunc(slices.Clone(rows), func(r Row) bool { return !strings.HasPrefix(r.Text(column), prefix) })
	if len(kept) == 0 && len(rows) > 0 {
		rows[0].t.Helper()
		rows[0].t.Fatalf("published figures: no row has a %s starting with %q", column, prefix)
	}
	return kept
}

// Text is the cell of a column. A column that does not exist fails the test.
func (r Row) Text(column string) string {
	v, ok := r.cells[column]
	if !ok {
		r.t.Helper()
		r.t.Fatalf("published figures: no column %q in %s", column, r.where)
	}
	return v
}

// Source is the document the figure comes from.
func (r Row) Source() string { return r.Text("source") }

// Provenance is "read", "memory", "computed", "mixed" or "not available"; the README beside the files explains them.
func (r Row) Provenance() string {
	cell := r.Text("provenance")
	for _, word := range []string{"read", "memory", "computed", "mixed", "not available"} {
		if strings.HasPrefix(cell, word) {
			return word
		}
	}
	r.t.Helper()
	r.t.Fatalf("published figures: provenance %q in %s", cell, r.where)
	return ""
}

// String is the whole row, for the message of a failed assertion.
func (r Row) String() string { return r.where }

// root is looked for from the package under test upwards, because -trimpath hides where the source was.
func root(t testing.TB) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatalf("published figures: %v", err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		parent := filepath.Dir(dir)
		if parent == dir {
			t.Fatalf("published figures: no go.mod above the test's folder")
		}
		dir = parent
	}
}
