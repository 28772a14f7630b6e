package domain_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/grading/internal/domain"
)

// steps are the reporting digits of factors that are not reported to a tenth.
var steps = map[domain.Factor]domain.Value{
	domain.Flavor: 10_000, domain.Defects: 10_000, domain.Clarity: 10_000, domain.Total: 10_000, domain.Conductivity: 100, domain.Insolubles: 100,
	domain.Density: 100, domain.SectionWeight: 100, domain.Capping: 10_000, domain.CombSurface: 10_000, domain.CombUniformity: 10_000,
	domain.CombPieces: 10_000, domain.BrokenPieces: 10_000, domain.ScreenMesh: 10_000,
}

// beside is the next value that can be reported past a limit.
func beside(l *domain.Limit) domain.Value {
	step := steps[l.Factor]
	if step == 0 {
		step = 1_000
	}
	if l.Least {
		return l.Bound - step
	}
	return l.Bound + step
}

// about is a question about honey a limit applies to, with one value.
func about(l *domain.Limit, v domain.Value) (domain.Question, error) {
	q := domain.Question{Style: domain.Filtered}
	if l.When != nil {
		if len(l.When.Sources) > 0 {
			q.Source = l.When.Sources[0]
		}
		if l.When.Claim != "" {
			q.Claims = []domain.Claim{l.When.Claim}
		}
		if l.When.Factor != 0 {
			if err := q.Set(l.When.Factor, l.When.Most); err != nil {
				return q, err
			}
		}
	}
	return q, q.Set(l.Factor, v)
}

func factorOf(t testing.TB, d *domain.Decision, f domain.Factor) domain.FactorResult {
	t.Helper()
	at := slices.IndexFunc(d.Factors, func(r domain.FactorResult) bool { return r.Factor == f })
	require.GreaterOrEqual(t, at, 0, "%s is not named", f.Words())
	return d.Factors[at]
}

// Every limit of every scheme: at the limit the grade is still open, one step past it no more, and both say where that is
// printed and whether it was read there.
func TestEveryLimitOfEverySchemeOnBothSides(t *testing.T) {
	t.Parallel()
	checked := 0
	for _, s := range domain.Published().All() {
		rank := func(id string) int {
			return slices.IndexFunc(s.Grades, func(g domain.Grade) bool { return g.ID == id })
		}
		for _, l := range s.Limits() {
			if l.None || l.Factor == domain.Total {
				continue
			}
			checked++
			at, err := about(&l, l.Bound)
			require.NoError(t, err, "%s: %s", s.ID, l.Text())
			d, err := s.Judge(&at)
			require.NoError(t, err)
			inside := factorOf(t, &d, l.Factor)
			require.LessOrEqual(t, rank(d.Grade), l.Grade, "%s: %s", s.ID, l.Text())
			require.NotEmpty(t, inside.Source)
			past, err := about(&l, beside(&l))
			if err != nil {
				var out *domain.OutOfRangeError
				require.ErrorAs(t, err, &out, "no instrument shows more: %s %s", s.ID, l.Text())
				continue
			}
			d, err = s.Judge(&past)
			require.NoError(t, err)
			outside := factorOf(t, &d, l.Factor)
			if outside.Grade == s.Grades[0].ID {
				// In its range clarity only lowers the total (from memory, about 50 % sure).
				require.Equal(t, domain.Clarity, l.Factor, "%s: %s", s.ID, l.Text())
				require.NotContains(t, outside.Limit, s.Grades[l.Grade].Words)
				continue
			}
			require.Greater(t, rank(d.Grade), l.Grade, "%s: %s", s.ID, l.Text())
			require.True(t, outside.Limiting, "%s: %s", s.ID, l.Text())
			require.NotEmpty(t, outside.Source)
			require.Contains(t, d.Explanation, l.Factor.FormatUnit(beside(&l)), "the deciding value is named")
		}
	}
	require.Greater(t, checked, 120)
}

// directions says which way better honey lies: up for points and cleanliness, down for water, age and dirt. Conductivity and
// the conditions of other factors have no one direction.
var directions = map[domain.Factor]int{
	domain.Moisture: -1, domain.Flavor: 1, domain.Defects: 1, domain.Clarity: 1, domain.HMF: -1, domain.Diastase: 1, domain.Sugars: 1,
	domain.Sucrose: -1, domain.Acidity: -1, domain.Insolubles: -1, domain.Density: 1, domain.Honeydew: -1, domain.SectionWeight: 1,
	domain.Capping: 1, domain.CombSurface: 1, domain.CombUniformity: 1, domain.CombShare: 1, domain.CombAttachment: 1, domain.CombPieces: -1,
	domain.BrokenPieces: -1, domain.ScreenMesh: 1,
}

// In every scheme, for every honey: better never lowers a grade, worse never raises one, and what decided is named.
func TestBetterNeverLowersAGradeInAnyScheme(t *testing.T) {
	t.Parallel()
	schemes := domain.Published().All()
	sources := []string{"", "clover", "citrus", "heather", "lavender", "chestnut", "basswood", "alfalfa"}
	rapid.Check(t, func(rt *rapid.T) {
		s := rapid.SampledFrom(schemes).Draw(rt, "scheme")
		q := domain.Question{Style: domain.Style(rapid.IntRange(0, 1).Draw(rt, "style")), Source: rapid.SampledFrom(sources).Draw(rt, "source")}
		for _, c := range domain.Claims() {
			if rapid.IntRange(0, 4).Draw(rt, string(c)) == 0 {
				q.Claims = append(q.Claims, c)
			}
		}
		given := map[domain.Factor]domain.Value{}
		for _, l := range s.Limits() {
			if _, drawn := given[l.Factor]; drawn || l.Factor == domain.Total || rapid.IntRange(0, 3).Draw(rt, "given") == 0 {
				continue
			}
			v := l.Bound + domain.Value(rapid.Int64Range(-30_000, 30_000).Draw(rt, l.Factor.String()))
			if q.Set(l.Factor, v) == nil {
				given[l.Factor] = v
			}
		}
		before, err := s.Judge(&q)
		if err != nil || before.Grade == "" {
			return
		}
		rank := func(id string) int {
			return slices.IndexFunc(s.Grades, func(g domain.Grade) bool { return g.ID == id })
		}
		if rank(before.Grade) > 0 {
			require.True(rt, slices.ContainsFunc(before.Factors, func(f domain.FactorResult) bool { return f.Limiting && f.Source != "" }), "nobody knows what decided: %s", before.Explanation)
		}
		for f, v := range given {
			up := directions[f]
			better := v + domain.Value(up)*domain.Value(rapid.Int64Range(0, 50_000).Draw(rt, "better "+f.String()))
			if up == 0 || q.Set(f, better) != nil {
				continue
			}
			after, err := s.Judge(&q)
			require.NoError(rt, err)
			require.LessOrEqual(rt, rank(after.Grade), rank(before.Grade), "%s from %s to %s", f.Words(), v.Format(1), better.Format(1))
			before = after
		}
	})
}
