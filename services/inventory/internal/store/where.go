package store

import (
	"fmt"
	"strings"
)

// where collects the conditions of a list and the arguments they need.
type where struct {
	conditions []string
	args       []any
}

// arg adds an argument and returns its placeholder.
func (w *where) arg(v any) string {
	w.args = append(w.args, v)
	return fmt.Sprintf("$%d", len(w.args))
}

// add adds a condition; each %s in it stands for one of values.
func (w *where) add(condition string, values ...any) {
	placeholders := make([]any, len(values))
	for i, v := range values {
		placeholders[i] = w.arg(v)
	}
	if len(values) > 0 {
		condition = fmt.Sprintf(condition, placeholders...)
	}
	w.conditions = append(w.conditions, condition)
}

func (w *where) equal(column string, value any, when bool) {
	if when {
		w.add(column+" = %s", value)
	}
}

func (w *where) sql() string {
	if len(w.conditions) == 0 {
		return ""
	}
	return " WHERE " + strings.Join(w.conditions, " AND ")
}
