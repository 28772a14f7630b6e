package pool_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

func graded(grade, color string, payable quantity.Mass) pool.ClassResult {
	return pool.ClassResult{Class: pool.Class{Grade: grade, ColorClass: color}, Payable: payable}
}

func TestTheAverageIsWhereHalfOfTheWeightIsReached(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		what, grade, color string
		classes            []pool.ClassResult
	}{
		{"nothing", "", "", nil},
		{"one class", "B", "AMBER", []pool.ClassResult{graded("B", "AMBER", 1)}},
		{"exactly half", "A", "WHITE", []pool.ClassResult{graded("C", "AMBER", 500), graded("A", "WHITE", 500)}},
		{"a thousandth beyond half", "C", "AMBER", []pool.ClassResult{graded("C", "AMBER", 501), graded("A", "WHITE", 500)}},
		{"weights of one grade together", "A", "AMBER", []pool.ClassResult{graded("A", "AMBER", 300), graded("B", "WATER_WHITE", 400), graded("A", "DARK_AMBER", 300)}},
		{"the worst is the heaviest", "SUBSTANDARD", "DARK_AMBER", []pool.ClassResult{graded("SUBSTANDARD", "DARK_AMBER", 900), graded("A", "WHITE", 100)}},
		{"a class without honey counts for nothing", "A", "WHITE", []pool.ClassResult{graded("A", "WHITE", 1), graded("X", "PINK", 0)}},
		{"a colour on no scale", "A", "", []pool.ClassResult{graded("A", "WHITE", 900), graded("A", "PINK", 1)}},
	} {
		require.Equal(t, c.grade, pool.AverageGrade(c.classes), c.what)
		require.Equal(t, c.color, pool.AverageColor(c.classes), c.what)
	}
}
