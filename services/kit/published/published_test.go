package published_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/published"
)

const folder = "../../../testdata/published"

func TestEveryFileNamesSourceAndProvenance(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob(filepath.Join(folder, "*.csv"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, file := range files {
		for _, row := range published.Load(t, filepath.Base(file)) {
			require.NotEmpty(t, row.Provenance())
			require.NotEmpty(t, row.Source(), "%s", row)
		}
	}
}

func TestReadmeExplainsEveryFile(t *testing.T) {
	t.Parallel()
	readme, err := os.ReadFile(filepath.Join(folder, "README.md"))
	require.NoError(t, err)
	files, err := filepath.Glob(filepath.Join(folder, "*.csv"))
	require.NoError(t, err)
	for _, file := range files {
		require.Contains(t, string(readme), "`"+filepath.Base(file)+"`")
	}
}

func TestWhereKeepsByPrefix(t *testing.T) {
	t.Parallel()
	rows := published.Where(published.Load(t, "check_digits.csv"), "kind", "ABA")
	require.NotEmpty(t, rows)
	for _, row := range rows {
		require.True(t, strings.HasPrefix(row.Text("kind"), "ABA"), "%s", row)
	}
}

// stopped records that a check failed the test it was given, without failing this one.
type stopped struct {
	testing.TB
	message string
}

func (s *stopped) Fatalf(format string, args ...any) {
	s.message = format
	panic(s)
}

func TestMistakesStopTheTest(t *testing.T) {
	t.Parallel()
	for name, mistake := range map[string]func(testing.TB){
		"no such file":   func(tb testing.TB) { published.Load(tb, "none.csv") },
		"no such column": func(tb testing.TB) { published.Load(tb, "units.csv")[0].Text("none") },
		"no such row":    func(tb testing.TB) { published.Where(published.Load(tb, "units.csv"), "unit", "furlong") },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := &stopped{TB: t}
			require.PanicsWithValue(t, s, func() { mistake(s) })
			require.NotEmpty(t, s.message)
		})
	}
}
