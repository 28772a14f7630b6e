package archtest

import (
	"bytes"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// forbidden is what must not be committed: marks of unfinished work, filler text, and the hosts packages come from, since
// each machine's own settings say where it fetches from. The words are put together here, or this file would hold them.
var forbidden = regexp.MustCompile(strings.Join([]string{
	`\bTO` + `DO\b`, `\bFIX` + `ME\b`, `(?i:\blo` + `rem\b)`,
	host("proxy", "golang", "org"), host("sum", "golang", "org"), host("npmjs", "(?:org|com)"), host("yarnpkg", "com"),
	host("pypi", "org"), host("pythonhosted", "org"), host("(?:deb|security|ftp)", "debian", "org"), host("ubuntu", "com"),
	host("docker", "io"), host("gcr", "io"), host("ghcr", "io"), host("quay", "io"),
}, "|"))

// hints, in lower case, are in every line the pattern can match: looking for them first is quicker by far than the pattern over the whole tree.
var hints = []string{
	"to" + "do", "fix" + "me", "lo" + "rem", "golang.org", "npmjs", "yarnpkg", "pypi", "pythonhosted", "debian", "ubuntu", "docker", "gcr", "ghcr", "quay",
}

func forbiddenIn(line string) string {
	lower := strings.ToLower(line)
	for _, hint := range hints {
		if strings.Contains(lower, hint) {
			return forbidden.FindString(line)
		}
	}
	return ""
}

func host(labels ...string) string { return `\b` + strings.Join(labels, `\.`) + `\b` }

func TestNoForbiddenWords(t *testing.T) {
	t.Parallel()
	held := 0
	look := func(name string) {
		text := read(t, name)
		if bytes.IndexByte([]byte(text), 0) >= 0 {
			return // a picture or a golden message
		}
		held++
		for i, line := range strings.Split(text, "\n") {
			if word := forbiddenIn(line); word != "" {
				t.Errorf("%s:%d: %s", name, i+1, word)
			}
		}
	}
	walk(t, look)
	look(".ci/run")
	require.Greater(t, held, 100, "the walk has lost its way")
}

// TestForbiddenWordsAreFound has a line for each kind, and what only looks like one.
func TestForbiddenWordsAreFound(t *testing.T) {
	t.Parallel()
	for _, parts := range [][]string{
		{"// TO", "DO: round"},
		{"# FIX", "ME"},
		{"Lo", "rem ipsum"},
		{"https://proxy.", "golang.org"},
		{"sum.", "golang.org"},
		{"https://registry.npm", "js.org/x"},
		{"http://deb.", "debian.org/debian"},
		{"archive.ubun", "tu.com"},
		{"pypi.", "org"},
		{"image: docker.", "io/library/postgres"},
	} {
		require.NotEmpty(t, forbiddenIn(strings.Join(parts, "")), parts)
	}
	for _, innocent := range []string{
		"context-todo: false", "protoregistry.GlobalFiles", "prometheus.NewPedanticRegistry()", "google.golang.org/grpc",
		"golang.org/x/sync", "a valorem tax", "debian.orgs", "methods are TODOS of nobody",
	} {
		require.NotRegexp(t, forbidden, innocent)
	}
}
