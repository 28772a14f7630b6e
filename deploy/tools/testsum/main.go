// Command testsum reads the output of go test -json, prints one line a tested package, everything a failed test said,
// the top-level tests that took longest, and last the number of them that passed and failed. A package that fails outside its tests (it does not
// build, or its process died) counts as one failure, and so does a skipped test: a test that cannot run proves nothing.
package main

import (
	"bufio"
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
)

type event struct {
	Action     string
	Package    string
	ImportPath string
	Test       string
	Output     string
	Elapsed    float64
}

type key struct{ pkg, test string }

type summary struct {
	out            io.Writer
	passed, failed int
	running        map[key]bool
	failedIn       map[string]int
	said           map[key]*strings.Builder
	slow           []timed
}

// timed is how many seconds a test took.
type timed struct {
	key
	seconds float64
}

// slowest is how many tests are named for their time.
const slowest = 8

func main() {
	failed, err := summarize(os.Stdin, os.Stdout)
	if err != nil {
		fmt.Fprintln(os.Stderr, "testsum:", err)
		os.Exit(1)
	}
	if failed > 0 {
		os.Exit(1)
	}
}

func summarize(in io.Reader, out io.Writer) (failed int, err error) {
	s := &summary{out: out, running: map[key]bool{}, failedIn: map[string]int{}, said: map[key]*strings.Builder{}}
	lines := bufio.NewReader(in)
	for {
		line, err := lines.ReadBytes('\n')
		if len(line) > 0 {
			s.line(line)
		}
		if err == io.EOF {
			break
		}
		if err != nil {
			return 0, err
		}
	}
	if s.passed+s.failed == 0 {
		s.failed++
		fmt.Fprintln(out, "no tests were run")
	}
	s.showSlow()
	fmt.Fprintf(out, "%d passed, %d failed\n", s.passed, s.failed)
	return s.failed, nil
}

// line handles one event; what is no event is go's own complaint and is shown as it is.
func (s *summary) line(line []byte) {
	var e event
	if json.Unmarshal(line, &e) != nil {
		_, _ = s.out.Write(line)
		return
	}
	top, _, sub := strings.Cut(e.Test, "/")
	k := key{e.Package, top}
	switch e.Action {
	case "build-output":
		fmt.Fprint(s.out, e.Output)
	case "run":
		s.running[k] = true
	case "output":
		if !noise(e.Output) {
			s.keep(k, e.Output)
		}
	case "pass", "fail", "skip":
		switch {
		case e.Test == "":
			s.packageDone(e)
		case e.Action == "skip":
			s.testFailed(k, fmt.Sprintf("%s %s was skipped, which counts as a failure\n", e.Package, e.Test))
		case !sub:
			s.slow = append(s.slow, timed{k, e.Elapsed})
			s.testDone(k, e.Action)
		}
	}
}

// noise is the running commentary that -json always turns on.
func noise(text string) bool {
	text = strings.TrimLeft(text, " ")
	return strings.HasPrefix(text, "=== ") || strings.HasPrefix(text, "--- PASS")
}

func (s *summary) keep(k key, text string) {
	if s.said[k] == nil {
		s.said[k] = &strings.Builder{}
	}
	s.said[k].WriteString(text)
}

func (s *summary) testDone(k key, action string) {
	if !s.running[k] {
		return // a skipped subtest has settled it
	}
	if action == "fail" {
		s.testFailed(k, "")
		return
	}
	s.passed++
	delete(s.running, k)
	delete(s.said, k)
}

func (s *summary) testFailed(k key, why string) {
	if !s.running[k] {
		return
	}
	delete(s.running, k)
	s.failed++
	s.failedIn[k.pkg]++
	s.show(k)
	fmt.Fprint(s.out, why)
}

// showSlow names the tests that took longest, where any took a second.
func (s *summary) showSlow() {
	slices.SortStableFunc(s.slow, func(a, b timed) int { return cmp.Compare(b.seconds, a.seconds) })
	for _, t := range s.slow[:min(slowest, len(s.slow))] {
		if t.seconds >= 1 {
			fmt.Fprintf(s.out, "%6.1f s  %s %s\n", t.seconds, t.pkg, t.test)
		}
	}
}

func (s *summary) show(k key) {
	if b := s.said[k]; b != nil {
		fmt.Fprint(s.out, b.String())
		delete(s.said, k)
	}
}

// packageDone also settles tests that never ended, because the process died under them.
func (s *summary) packageDone(e event) {
	for k := range s.running {
		if k.pkg == e.Package && e.Action == "fail" {
			s.testFailed(k, fmt.Sprintf("%s %s did not finish\n", k.pkg, k.test))
		}
	}
	whole := key{pkg: e.Package}
	switch {
	case e.Action != "fail":
		if e.Action == "pass" { // and not "skip": a package without tests has nothing to say
			fmt.Fprintf(s.out, "ok  \t%s\t%.1fs\n", e.Package, e.Elapsed)
		}
		delete(s.said, whole)
		return
	case s.failedIn[e.Package] == 0:
		s.failed++
		s.show(whole)
	}
	fmt.Fprintf(s.out, "FAIL\t%s\t%.1fs\n", e.Package, e.Elapsed)
}
