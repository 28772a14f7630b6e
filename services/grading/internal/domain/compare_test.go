package domain_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/published"
)

func standard(t testing.TB, id string) *domain.Standard {
	t.Helper()
	s, err := domain.Published().InForce("standards/"+id, "2026-09-14")
	require.NoError(t, err)
	return s
}

// judgeBy asks one standard about honey of a source and with claims.
func judgeBy(t testing.TB, id, source string, claims []domain.Claim, fields map[domain.Factor]string) domain.Decision {
	t.Helper()
	q, err := domain.Ask(domain.Strained, fields)
	require.NoError(t, err)
	q.Source, q.Claims = source, claims
	d, err := standard(t, id).Judge(&q)
	require.NoError(t, err)
	return d
}

var compositional = map[string]domain.Factor{
	"fructose+glucose": domain.Sugars, "sucrose": domain.Sucrose, "moisture": domain.Moisture, "water-insoluble": domain.Insolubles,
	"electrical conductivity": domain.Conductivity, "free acidity": domain.Acidity, "diastase (Schade)": domain.Diastase, "HMF": domain.HMF,
}

// condition says which honey a row of the published table is about.
func condition(t testing.TB, row published.Row) (sources []string, claims []domain.Claim, extra map[domain.Factor]string) {
	t.Helper()
	extra = map[domain.Factor]string{}
	text := row.Text("condition")
	switch {
	case strings.HasPrefix(text, "honeydew, chestnut"):
		return []string{"chestnut"}, nil, extra
	case strings.HasPrefix(text, "honeydew"):
		return []string{""}, []domain.Claim{domain.HoneydewBlend}, extra
	case text == "baker's honey from heather":
		return []string{"heather"}, []domain.Claim{domain.Bakers}, extra
	case text == "baker's honey":
		return []string{""}, []domain.Claim{domain.Bakers}, extra
	case strings.HasPrefix(text, "heather"):
		return []string{"heather"}, nil, extra
	case text == "pressed":
		return []string{""}, []domain.Claim{domain.Pressed}, extra
	case strings.HasPrefix(text, "declared tropical"):
		return []string{""}, []domain.Claim{domain.Tropical}, extra
	case strings.HasPrefix(text, "low natural enzyme"):
		extra[domain.HMF] = "15"
		return []string{"", "citrus"}, []domain.Claim{domain.LowEnzyme}, extra
	case strings.HasPrefix(text, "false acacia"), strings.HasPrefix(text, "lavender"):
		for _, s := range strings.Split(text, ", ") {
			sources = append(sources, strings.ToLower(s))
		}
		return sources, nil, extra
	case text == "blossom honey", text == "general", strings.HasPrefix(text, "not listed"):
		return []string{"", "clover"}, nil, extra
	default:
		require.Fail(t, "a condition nothing checks", "%s", row)
		return nil, nil, nil
	}
}

func TestCompositionLimitsAreThePublishedOnes(t *testing.T) {
	t.Parallel()
	checked := map[string]int{}
	for _, row := range published.Load(t, "codex_limits.csv") {
		id := map[string]string{"EU 2001/110/EC": "eu-honey-2001", "Codex CXS 12-1981": "codex-honey-1981"}[row.Text("scheme")]
		factor, known := compositional[row.Text("parameter")]
		if id == "" || !known || row.Text("operator") == "none" {
			continue
		}
		limit, step := value(t, row.Text("limit")), domain.Value(1_000)
		if factor == domain.Conductivity || factor == domain.Insolubles {
			step = 100
		}
		beyond := limit + step
		if row.Text("operator") == ">=" {
			beyond = limit - step
		}
		sources, claims, extra := condition(t, row)
		for _, source := range sources {
			at := map[domain.Factor]string{factor: limit.Format(1)}
			past := map[domain.Factor]string{factor: beyond.Format(1)}
			for f, v := range extra {
				at[f], past[f] = v, v
			}
			best := standard(t, id).Grades[0].ID
			require.Equal(t, best, judgeBy(t, id, source, claims, at).Grade, "%s", row)
			if factor == domain.Moisture && limit == value(t, "25") {
				_, err := domain.Ask(domain.Strained, past)
				require.ErrorContains(t, err, "outside 12.0 to 25.0 %", "no instrument shows more")
				continue
			}
			require.NotEqual(t, best, judgeBy(t, id, source, claims, past).Grade, "%s", row)
		}
		checked[id]++
	}
	require.Equal(t, map[string]int{"eu-honey-2001": 19, "codex-honey-1981": 16}, checked)
}

func TestExemptFromConductivity(t *testing.T) {
	t.Parallel()
	row := published.Where(published.Load(t, "codex_limits.csv"), "operator", "none")[0]
	_, list, _ := strings.Cut(row.Text("condition"), "exempt: ")
	for _, id := range []string{"eu-honey-2001", "codex-honey-1981"} {
		for _, source := range strings.Split(list, ", ") {
			if ours, ok := map[string]string{"ling heather": "heather", "manuka/jelly bush": "manuka"}[source]; ok {
				source = ours
			}
			d := judgeBy(t, id, source, nil, map[domain.Factor]string{domain.Conductivity: "1.4"})
			require.Equal(t, standard(t, id).Grades[0].ID, d.Grade, source)
		}
		// Basswood is the lime tree of America.
		require.Equal(t, standard(t, id).Grades[0].ID, judgeBy(t, id, "basswood", nil, map[domain.Factor]string{domain.Conductivity: "0.9"}).Grade)
	}
}

func TestLimitWorkedExamples(t *testing.T) {
	t.Parallel()
	rows := published.Where(published.Load(t, "worked_examples.csv"), "area", "limits")
	past := []domain.Claim{domain.Pasteurized}
	for i, c := range []struct {
		id, source string
		claims     []domain.Claim
		fields     map[domain.Factor]string
		short      string
	}{
		{"eu-honey-2001", "citrus", nil, map[domain.Factor]string{domain.Diastase: "4", domain.HMF: "14"}, "EU legal"},
		{"eu-honey-2001", "citrus", nil, map[domain.Factor]string{domain.Diastase: "4", domain.HMF: "16"}, "not EU legal: diastase at 4.0 DN is under 8.0 DN"},
		{"eu-honey-2001", "chestnut", nil, map[domain.Factor]string{domain.Conductivity: "0.75"}, "not EU legal: conductivity at 0.75 mS/cm is under 0.80 mS/cm"},
		{"eu-honey-2001", "lavender", nil, map[domain.Factor]string{domain.Sucrose: "14.0"}, "EU legal"},
		{"canada-honey-prepackaged", "", nil, map[domain.Factor]string{domain.Moisture: "18.0"}, "Canada No. 2, not No. 1: 18.0 % water is over 17.8 %"},
		{"canada-honey-prepackaged", "", past, map[domain.Factor]string{domain.Moisture: "18.0"}, "Canada No. 1"},
	} {
		d := judgeBy(t, c.id, c.source, c.claims, c.fields)
		require.Equal(t, c.short, d.Short, "%s", rows[i])
		passes := !strings.Contains(d.Short, "not")
		require.Equal(t, strings.HasPrefix(rows[i].Text("expected"), "pass"), passes, "%s", rows[i])
	}
	require.Len(t, rows, 6)
}

func TestCanadaMoistureByGrade(t *testing.T) {
	t.Parallel()
	checked := 0
	for _, row := range published.Where(published.Load(t, "codex_limits.csv"), "parameter", "Canada No. ") {
		grade, _, _ := strings.Cut(strings.TrimPrefix(row.Text("parameter"), "Canada No. "), " ")
		var claims []domain.Claim
		if row.Text("condition") == "marked pasteurized" {
			claims = []domain.Claim{domain.Pasteurized}
		}
		limit := value(t, row.Text("limit"))
		for _, id := range []string{"canada-honey-prepackaged", "canada-honey-bulk"} {
			at := judgeBy(t, id, "", claims, map[domain.Factor]string{domain.Moisture: limit.Format(1)})
			require.LessOrEqual(t, at.Grade, "NO_"+grade, "%s", row)
			past := judgeBy(t, id, "", claims, map[domain.Factor]string{domain.Moisture: (limit + 1_000).Format(1)})
			require.NotEqual(t, "NO_"+grade, past.Grade, "%s", row)
		}
		checked++
	}
	require.Equal(t, 6, checked)
}

// Screens: Canada 80 and 60 meshes to the inch, California 23, each read.
func TestScreens(t *testing.T) {
	t.Parallel()
	rows := published.Where(published.Load(t, "codex_limits.csv"), "parameter", "foreign material screen")
	require.Len(t, rows, 2)
	for i, want := range []string{"NO_1", "NO_2"} {
		mesh, _, _ := strings.Cut(rows[i].Text("limit"), " mesh")
		coarser := (value(t, mesh) - 10_000).Format(0)
		for _, id := range []string{"canada-honey-bulk", "canada-honey-prepackaged"} {
			require.Equal(t, want, judgeBy(t, id, "", nil, map[domain.Factor]string{domain.ScreenMesh: mesh}).Grade, "%s", rows[i])
			require.Greater(t, judgeBy(t, id, "", nil, map[domain.Factor]string{domain.ScreenMesh: coarser}).Grade, want, "%s", rows[i])
		}
	}
	floor := published.Where(published.Load(t, "us_extracted_honey_scores.csv"), "factor", "California straining floor")[0]
	require.Contains(t, floor.Text("value_or_range"), "23 meshes", "%s", floor)
	require.Equal(t, "STRAINED", judgeBy(t, "california-extracted", "", nil, map[domain.Factor]string{domain.ScreenMesh: "23"}).Grade)
	require.Equal(t, "not cleanly strained for California: the finest screen passed at 22 mesh is under 23 mesh",
		judgeBy(t, "california-extracted", "", nil, map[domain.Factor]string{domain.ScreenMesh: "22"}).Short)
}

// Canada's two scales are from memory, Wisconsin's was read; Wisconsin puts 35.0 into Golden.
func TestOtherColorScales(t *testing.T) {
	t.Parallel()
	checked := 0
	for prefix, id := range map[string]string{
		"Canada consumer prepackaged": "canada-honey-prepackaged", "Canada other than": "canada-honey-bulk", "Wisconsin": "wisconsin-honey",
	} {
		for _, row := range published.Where(published.Load(t, "color_classes.csv"), "scheme", prefix) {
			class, to := wireName(row.Text("class")), row.Text("to_mm_pfund")
			inside, outside := "149.9", ""
			switch {
			case strings.HasPrefix(to, "<"):
				outside = strings.TrimPrefix(to, "<")
				inside = (value(t, outside) - 1_000).Format(1)
			case to != "":
				inside, outside = to, (value(t, to) + 1_000).Format(1)
			}
			colored := func(mm string) string {
				return judgeBy(t, id, "", nil, map[domain.Factor]string{domain.Color: mm}).ColorClass
			}
			require.Equal(t, class, colored(inside), "%s", row)
			if outside != "" {
				require.NotEqual(t, class, colored(outside), "%s", row)
			}
			checked++
		}
	}
	require.Equal(t, 13, checked)
	example := published.Where(published.Load(t, "worked_examples.csv"), "quantity", "Wisconsin class")[0]
	d := judgeBy(t, "wisconsin-honey", "", nil, map[domain.Factor]string{domain.Color: strings.TrimPrefix(example.Text("inputs"), "mm=")})
	require.Equal(t, wireName(example.Text("expected")), d.ColorClass)
	require.Equal(t, "from 35.0 to 85.0 mm is golden", d.Factors[0].Limit)
}

func TestCaliforniaMarkedColorMayBeDarkerThanTheHoney(t *testing.T) {
	t.Parallel()
	marked := func(class, mm string) (domain.Decision, error) {
		q, err := domain.Ask(domain.Strained, map[domain.Factor]string{domain.Color: mm})
		require.NoError(t, err)
		q.MarkedColor = class
		return standard(t, "california-honey").Judge(&q)
	}
	for _, c := range []struct{ class, mm, grade string }{
		{"LIGHT_AMBER", "85", "RIGHTLY_MARKED"}, {"LIGHT_AMBER", "8", "RIGHTLY_MARKED"}, {"LIGHT_AMBER", "85.1", "MISMARKED"}, {"DARK_AMBER", "150", "RIGHTLY_MARKED"},
	} {
		d, err := marked(c.class, c.mm)
		require.NoError(t, err)
		require.Equal(t, c.grade, d.Grade, "%s marked %s", c.mm, c.class)
	}
	d, err := marked("WHITE", "42")
	require.NoError(t, err)
	require.Equal(t, "Colour at 42.0 mm is over the 34.0 mm limit of rightly marked honey, so the sample is darker than marked. Colour 42.0 mm is extra light amber.", d.Explanation)
	_, err = marked("GOLDEN", "42")
	require.ErrorContains(t, err, `"GOLDEN" is no colour class`)
}

func TestOneSentenceForAllStandards(t *testing.T) {
	t.Parallel()
	q, err := domain.Ask(domain.Strained, map[domain.Factor]string{domain.Moisture: "18.0"})
	require.NoError(t, err)
	c, err := domain.Published().Compare(&q, "2026-09-14")
	require.NoError(t, err)
	require.Equal(t, "As far as judged: meets Codex, EU legal, table honey for us, US grade A; Canada No. 2, not No. 1: 18.0 % water is over 17.8 %.", c.Summary)
	require.Len(t, c.Decisions, 6)
	_, err = domain.Published().Compare(&domain.Question{}, "2026-09-14")
	require.ErrorContains(t, err, "nothing was given")
	q, err = domain.Ask(domain.Strained, map[domain.Factor]string{domain.Color: "42"})
	require.NoError(t, err)
	c, err = domain.Published().Compare(&q, "2026-09-14")
	require.NoError(t, err)
	require.Empty(t, c.Summary)
	require.NotEmpty(t, c.Decisions)
}

func TestHouseSpecificationIsJudgedLikeAnyOther(t *testing.T) {
	t.Parallel()
	d := judgeBy(t, "fallow-creek-table-2026", "clover", nil, map[domain.Factor]string{domain.Moisture: "18.4", domain.HMF: "12"})
	require.Equal(t, "BAKERY", d.Grade)
	require.False(t, d.Factors[0].Provisional, "our own rule is certain")
	require.Equal(t, []domain.Factor{domain.Flavor, domain.Defects}, d.NotJudged)
}
