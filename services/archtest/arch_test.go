package archtest

import (
	"os"
	"path"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestRules(t *testing.T) {
	t.Parallel()
	all := sources(t)
	for _, r := range rules {
		t.Run(r.name, func(t *testing.T) {
			t.Parallel()
			held := 0
			for _, s := range all {
				if !r.applies(s) {
					continue
				}
				held++
				for _, what := range r.broken(s) {
					t.Errorf("%s: %s", s.path, what)
				}
			}
			require.NotZero(t, held, "the rule speaks of no file any more")
		})
	}
}

// TestRulesFindBreaches writes one file that breaks each rule, and its nearest innocent neighbour.
func TestRulesFindBreaches(t *testing.T) {
	t.Parallel()
	imports := func(target string) string { return "package p\nimport _ \"" + target + "\"\n" }
	cases := []struct{ rule, path, breach, innocent string }{
		{"a domain imports", "services/intake/internal/domain/a.go", imports("os"), imports("strings")},
		{"a domain imports", "services/intake/internal/domain/a.go", imports("net/http"), imports("github.com/google/uuid")},
		{"a domain imports", "services/intake/internal/domain/a.go", imports("github.com/jackc/pgx/v5"), imports(module + "services/kit/checkdigit")},
		{"a domain imports", "services/settlement/internal/domain/a.go", imports(module + "services/kit/clock"), imports(module + "services/kit/calendar")},
		{"a domain imports", "services/intake/internal/domain/a.go", imports(module + "services/kit/pg"), imports(module + "services/kit/quantity")},
		{"a domain imports", "services/inventory/internal/domain/blend/a.go", imports(module + "services/intake/internal/domain"), imports(module + "services/inventory/internal/domain/stock")},
		{"rooms lean inwards", "services/grading/internal/store/a.go", imports(module + "services/grading/internal/rpc"), imports(module + "services/grading/internal/app")},
		{"rooms lean inwards", "services/grading/internal/app/a.go", imports(module + "services/grading/internal/store"), imports(module + "services/grading/internal/domain")},
		{"kit imports", "services/kit/pg/a.go", imports(module + "services/intake"), imports(module + "migrations")},
		{"kit imports", "services/kit/pg/a_test.go", imports(module + "gateway"), imports(module + "proto/gen/barrelhead/feed/v1")},
		{"kit imports", "services/kit/pg/a.go", imports(module + "deploy/certs"), imports(module + "services/kit/config")},
		{"no service imports another", "services/intake/a.go", imports(module + "services/grading"), imports(module + "services/intake/internal/rpc")},
		{"no service imports another", "services/intake/a_test.go", imports(module + "gateway"), imports(module + "services/kit/pgtest")},
		{"no service imports another", "services/intake/a.go", imports(module + "deploy/scalesim"), imports(module + "services/kit/pg")},
		{"no service imports another", "services/intake/a_test.go", imports(module + "deploy/season"), imports(module + "deploy/scalesim")},
		{"the gateway imports no service", "gateway/a.go", imports(module + "services/intake"), imports(module + "services/kit/rpcdial")},
		{"a room of the pages", "gateway/internal/web/lab/a.go", imports(module + "gateway/internal/web/dock"), imports(module + "gateway/internal/web/site")},
		{"a room of the pages", "gateway/internal/web/site/a.go", imports(module + "gateway/internal/web/office"), imports(module + "gateway/internal/wording")},
		{"a room of the pages", "gateway/internal/web/dock/a.go", imports(module + "gateway/internal/web"), imports(module + "gateway/internal/rest")},
		{"status codes", "services/intake/internal/app/a.go", imports("google.golang.org/grpc/codes"), imports(module + "services/kit/access")},
		{"test kits", "services/intake/a.go", imports(module + "services/kit/pgtest"), imports(module + "services/kit/pg")},
		{"nothing weighed", "services/settlement/internal/domain/a.go", "package p\nvar x float64\n", "package p\nvar x int64\n"},
		{"nothing weighed", "services/kit/quantity/a.go", "package p\nconst x = 1.5\n", "package p\nconst x = 15\n"},
		{"nothing weighed", "services/intake/internal/domain/a.go", "package p\nvar x = new(big.Float)\n", "package p\nvar x = new(big.Int)\n"},
		{"a command is", "services/intake/cmd/intake/main.go", "package p\n" + strings.Repeat("\n", 40), "package p\n"},
	}
	seen := map[string]bool{}
	for _, c := range cases {
		i := slices.IndexFunc(rules, func(r rule) bool { return strings.HasPrefix(r.name, c.rule) })
		require.GreaterOrEqual(t, i, 0, c.rule)
		seen[rules[i].name] = true
		bad, good := parse(t, c.path, c.breach), parse(t, c.path, c.innocent)
		require.True(t, rules[i].applies(bad), "%s: %s", c.rule, c.path)
		require.NotEmpty(t, rules[i].broken(bad), "%s: %s", c.rule, c.breach)
		require.Empty(t, rules[i].broken(good), "%s: %s", c.rule, c.innocent)
	}
	require.Len(t, seen, len(rules), "a rule has no example")
}

func TestStatusCodesAreFreeInRPCRooms(t *testing.T) {
	t.Parallel()
	i := slices.IndexFunc(rules, func(r rule) bool { return strings.HasPrefix(r.name, "status codes") })
	require.False(t, rules[i].applies(parse(t, "services/intake/internal/rpc/a.go", "package p\n")))
	require.False(t, rules[i].applies(parse(t, "services/kit/apierr/a.go", "package p\n")))
}

// Dot-files are left out: what a developer's editor keeps there is ignored by git or seen in review.
func TestRootHoldsOnlyTheAgreedNames(t *testing.T) {
	t.Parallel()
	agreed := []string{
		"proto", "services", "gateway", "deploy", "migrations", "testdata",
		"buf.yaml", "go.mod", "go.sum", "README.md", "DEVELOPERS.md",
	}
	entries, err := os.ReadDir(root)
	require.NoError(t, err)
	var found []string
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), ".") {
			found = append(found, e.Name())
		}
	}
	require.ElementsMatch(t, agreed, found)
}

func TestNoFileOutgrowsItsReader(t *testing.T) {
	t.Parallel()
	const most = 600
	written := []string{".go", ".proto", ".sql", ".sh", ".html", ".css", ".js", ".mjs", ".yaml", ".yml", ".md", ""}
	held := 0
	walk(t, func(name string) {
		if !slices.Contains(written, path.Ext(name)) {
			return
		}
		held++
		if lines := strings.Count(read(t, name), "\n"); lines > most {
			t.Errorf("%s has %d lines: more than %d are two things in one file", name, lines, most)
		}
	})
	require.Greater(t, held, 50, "the walk has lost its way")
}
