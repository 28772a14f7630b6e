package main

import (
	"strings"
	"testing"
)

func TestSummary(t *testing.T) {
	for name, c := range map[string]struct {
		events string
		failed int
		says   []string
		last   string
	}{
		"subtests count with their test": {
			`{"Action":"run","Package":"p","Test":"A"}
{"Action":"run","Package":"p","Test":"A/x"}
{"Action":"pass","Package":"p","Test":"A/x"}
{"Action":"pass","Package":"p","Test":"A"}
{"Action":"pass","Package":"p","Elapsed":0.5}
{"Action":"skip","Package":"quiet"}`,
			0,
			[]string{"ok  \tp\t0.5s"},
			"1 passed, 0 failed",
		},
		"a failure is shown with what it said": {
			`{"Action":"run","Package":"p","Test":"A"}
{"Action":"output","Package":"p","Test":"A/x","Output":"=== RUN   A/x quiet\n"}
{"Action":"output","Package":"p","Test":"A/x","Output":"got 1, want 2\n"}
{"Action":"output","Package":"p","Test":"A/y","Output":"    --- PASS: A/y quiet\n"}
{"Action":"fail","Package":"p","Test":"A/x"}
{"Action":"fail","Package":"p","Test":"A"}
{"Action":"run","Package":"p","Test":"B"}
{"Action":"output","Package":"p","Test":"B","Output":"quiet\n"}
{"Action":"pass","Package":"p","Test":"B"}
{"Action":"fail","Package":"p"}`,
			1,
			[]string{"got 1, want 2", "FAIL\tp"},
			"1 passed, 1 failed",
		},
		"a package that does not build": {
			`{"ImportPath":"p","Action":"build-output","Output":"p.go:1: syntax error\n"}
{"ImportPath":"p","Action":"build-fail"}
{"Action":"output","Package":"p","Output":"FAIL\tp [build failed]\n"}
{"Action":"fail","Package":"p","FailedBuild":"p"}`,
			1,
			[]string{"syntax error", "build failed"},
			"0 passed, 1 failed",
		},
		"a test whose process died": {
			`{"Action":"run","Package":"p","Test":"A"}
{"Action":"output","Package":"p","Test":"A","Output":"panic: out of honey\n"}
{"Action":"fail","Package":"p"}`,
			1,
			[]string{"out of honey", "p A did not finish"},
			"0 passed, 1 failed",
		},
		"a skipped test fails": {
			`{"Action":"run","Package":"p","Test":"A"}
{"Action":"skip","Package":"p","Test":"A"}
{"Action":"pass","Package":"p"}`,
			1,
			[]string{"p A was skipped"},
			"0 passed, 1 failed",
		},
		"a skipped subtest fails its test once": {
			`{"Action":"run","Package":"p","Test":"A"}
{"Action":"skip","Package":"p","Test":"A/x"}
{"Action":"skip","Package":"p","Test":"A/y"}
{"Action":"pass","Package":"p","Test":"A"}
{"Action":"pass","Package":"p"}`,
			1,
			[]string{"p A/x was skipped"},
			"0 passed, 1 failed",
		},
		"the tests that took longest are named": {
			`{"Action":"run","Package":"p","Test":"Quick"}
{"Action":"run","Package":"p","Test":"Slow"}
{"Action":"pass","Package":"p","Test":"Quick","Elapsed":0.2}
{"Action":"pass","Package":"p","Test":"Slow","Elapsed":61.25}
{"Action":"pass","Package":"p","Elapsed":62}`,
			0,
			[]string{"ok  \tp\t62.0s\n  61.2 s  p Slow\n"},
			"2 passed, 0 failed",
		},
		"a complaint of go itself": {
			"go: no such folder\n", 1, []string{"go: no such folder", "no tests were run"}, "0 passed, 1 failed",
		},
	} {
		t.Run(name, func(t *testing.T) {
			var out strings.Builder
			failed, err := summarize(strings.NewReader(c.events), &out)
			if err != nil || failed != c.failed {
				t.Fatalf("failed %d, error %v, want %d failed", failed, err, c.failed)
			}
			for _, text := range c.says {
				if !strings.Contains(out.String(), text) {
					t.Errorf("no %q in:\n%s", text, out.String())
				}
			}
			if strings.Contains(out.String(), "quiet") {
				t.Errorf("a passed test or the commentary spoke:\n%s", out.String())
			}
			if !strings.HasSuffix(out.String(), c.last+"\n") {
				t.Errorf("does not end with %q:\n%s", c.last, out.String())
			}
		})
	}
}
