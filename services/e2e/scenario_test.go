package e2e

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"gopkg.in/yaml.v3"

	"barrelhead.example/deploy/season"
)

// scenario is one bad day of testdata/scenarios: calls of the public API with what must come back.
type scenario struct {
	Name  string `yaml:"name"`
	Steps []step `yaml:"steps"`
}

// step is one call, or a block of them.
type step struct {
	Say string `yaml:"say"`
	// Repeat runs Steps this often.
	Repeat int    `yaml:"repeat"`
	Steps  []step `yaml:"steps"`
	// Each runs the call (or Steps) once for each number of a range: {barrel: 1..24} sets ${barrel}.
	Each map[string]string `yaml:"each"`
	// Lanes works so many numbers of Each side by side; what one saves is for itself and for what comes after all of them.
	Lanes int `yaml:"lanes"`
	// DaysPass moves the clock of the four services on; nothing is called.
	DaysPass int `yaml:"days_pass"`
	// As is the login that calls.
	As   string         `yaml:"as"`
	Get  string         `yaml:"get"`
	Post string         `yaml:"post"`
	Body map[string]any `yaml:"body"`
	// AtOnce sends the same call this often side by side; all answers must meet Expect and be alike.
	AtOnce int `yaml:"at_once"`
	// Until repeats a read until it meets Expect: feeds are asynchronous.
	Until  bool   `yaml:"until"`
	Expect expect `yaml:"expect"`
	// Save keeps parts of the answer by dotted path.
	Save map[string]string `yaml:"save"`
	// Remember keeps the whole answer under a name; Same demands another answer to be byte-identical to it.
	Remember string `yaml:"remember"`
	Same     string `yaml:"same"`
}

// expect is what an answer must be.
type expect struct {
	Status int `yaml:"status"`
	// Reason and Message of a refusal; Message is a regular expression.
	Reason  string `yaml:"reason"`
	Message string `yaml:"message"`
	// Fields maps dotted paths to exact values ("" means absent).
	Fields map[string]string `yaml:"fields"`
	// Counts maps dotted paths of lists to their lengths.
	Counts map[string]int `yaml:"counts"`
	// Without lists strings that must stand nowhere in the answer.
	Without []string `yaml:"without"`
}

func TestScenarios(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob("../../testdata/scenarios/*.yaml")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".yaml"), func(t *testing.T) {
			t.Parallel()
			text, err := os.ReadFile(file)
			require.NoError(t, err)
			decoder := yaml.NewDecoder(bytes.NewReader(text))
			decoder.KnownFields(true)
			var s scenario
			require.NoError(t, decoder.Decode(&s))
			p := &player{world: newWorld(t, season.Size{Members: 6}), vars: map[string]string{}, answers: map[string][]byte{}}
			p.vars["year"] = fmt.Sprint(p.year)
			zone, err := time.LoadLocation(fallowCreek.TimeZone)
			require.NoError(t, err)
			p.today = time.Now().In(zone)
			p.play(t, s.Steps)
		})
	}
}

// player works one scenario.
type player struct {
	*world
	vars    map[string]string
	answers map[string][]byte
	// today is the first day of the scenario at the cooperative.
	today time.Time
}

func (p *player) play(t *testing.T, steps []step) {
	t.Helper()
	for _, s := range steps {
		for range max(s.Repeat, 1) {
			p.each(t, s)
		}
	}
}

func (p *player) each(t *testing.T, s step) {
	t.Helper()
	if len(s.Each) == 0 {
		p.one(t, s)
		return
	}
	for name, numbers := range s.Each {
		from, to, ok := strings.Cut(numbers, "..")
		require.True(t, ok, "each: %s is not a range", numbers)
		first, last := number(t, from), number(t, to)
		if s.Lanes > 1 {
			p.sideBySide(t, s, name, first, last)
			continue
		}
		for i := first; i <= last; i++ {
			p.vars[name] = fmt.Sprint(i)
			p.one(t, s)
		}
	}
}

// sideBySide works a range in lanes. A step that fails ends its lane, and the scenario when all lanes have ended.
func (p *player) sideBySide(t *testing.T, s step, name string, first, last int) {
	t.Helper()
	lanes := make([]*player, s.Lanes)
	var wg sync.WaitGroup
	for lane := range lanes {
		lanes[lane] = &player{world: p.world, vars: maps.Clone(p.vars), answers: maps.Clone(p.answers), today: p.today}
		wg.Go(func() {
			for i := first + lane; i <= last && !t.Failed(); i += s.Lanes {
				lanes[lane].vars[name] = fmt.Sprint(i)
				lanes[lane].one(t, s)
			}
		})
	}
	wg.Wait()
	require.False(t, t.Failed(), "a lane failed")
	for _, lane := range lanes {
		maps.Copy(p.vars, lane.vars)
		maps.Copy(p.answers, lane.answers)
	}
}

func number(t *testing.T, s string) int {
	t.Helper()
	n, err := strconv.Atoi(s)
	require.NoError(t, err)
	return n
}

func (p *player) one(t *testing.T, s step) {
	t.Helper()
	if len(s.Steps) > 0 {
		p.play(t, s.Steps)
		return
	}
	if s.DaysPass > 0 {
		p.clock.pass(s.DaysPass)
		return
	}
	// What a neighbour will have applied can only be asked for.
	again := time.NewTicker(20 * time.Millisecond)
	defer again.Stop()
	for deadline := time.Now().Add(30 * time.Second); ; <-again.C {
		status, answer := p.call(t, s)
		fault := p.check(t, s, status, answer)
		if fault == "" {
			p.keep(t, s, answer)
			return
		}
		if !s.Until || time.Now().After(deadline) {
			require.Fail(t, "step: "+s.Say+s.Get+s.Post, "%s\nHTTP %d %s", fault, status, answer)
		}
	}
}

func (p *player) call(t *testing.T, s step) (int, []byte) {
	t.Helper()
	session := p.session(t, p.fill(t, s.As))
	method, path, body := http.MethodGet, p.fill(t, s.Get), []byte(nil)
	if s.Post != "" {
		text, err := json.Marshal(p.fillAny(t, maps.Clone(s.Body)))
		require.NoError(t, err)
		method, path, body = http.MethodPost, p.fill(t, s.Post), text
	}
	statuses, answers := make([]int, max(s.AtOnce, 1)), make([][]byte, max(s.AtOnce, 1))
	var wg sync.WaitGroup
	for i := range statuses {
		wg.Go(func() {
			status, answer, err := session.Send(t.Context(), method, path, body)
			if err != nil {
				answer = []byte(err.Error())
			}
			statuses[i], answers[i] = status, answer
		})
	}
	wg.Wait()
	for i := range statuses {
		require.Equal(t, statuses[0], statuses[i], "%s", answers[i])
		require.Equal(t, canonical(answers[0]), canonical(answers[i]), "the same call sent %d times at once", s.AtOnce)
	}
	return statuses[0], answers[0]
}

// canonical is an answer without the accidents of JSON spacing.
func canonical(answer []byte) string {
	var parsed any
	if json.Unmarshal(answer, &parsed) != nil {
		return string(answer)
	}
	text, err := json.Marshal(parsed)
	if err != nil {
		return string(answer)
	}
	return string(text)
}

// placeholder is one that holds no other: ${sample${barrel}} is filled from the inside.
var placeholder = regexp.MustCompile(`\$\{([^${}]*)\}`)

// fill replaces ${name} by a saved value, ${id:label} by a request id that is the same wherever the label is, and ${day:n} by
// the date n days from the cooperative's today.
func (p *player) fill(t *testing.T, s string) string {
	t.Helper()
	for placeholder.MatchString(s) {
		s = placeholder.ReplaceAllStringFunc(s, func(found string) string {
			name := found[2 : len(found)-1]
			if label, ok := strings.CutPrefix(name, "id:"); ok {
				return uuid.NewSHA1(uuid.NameSpaceURL, []byte(label)).String()
			}
			if days, ok := strings.CutPrefix(name, "day:"); ok {
				return p.today.AddDate(0, 0, number(t, days)).Format(time.DateOnly)
			}
			value, ok := p.vars[name]
			require.True(t, ok, "nothing was saved as %s", name)
			return value
		})
	}
	return s
}

func (p *player) fillAny(t *testing.T, v any) any {
	t.Helper()
	switch v := v.(type) {
	case string:
		return p.fill(t, v)
	case map[string]any:
		filled := map[string]any{}
		for key, value := range v {
			filled[key] = p.fillAny(t, value)
		}
		return filled
	case []any:
		filled := make([]any, len(v))
		for i, value := range v {
			filled[i] = p.fillAny(t, value)
		}
		return filled
	}
	return v
}

// check says what is wrong with an answer, or nothing.
func (p *player) check(t *testing.T, s step, status int, answer []byte) string {
	t.Helper()
	want := s.Expect.Status
	if want == 0 {
		want = http.StatusOK
	}
	if status != want {
		return fmt.Sprintf("HTTP status %d, expected %d", status, want)
	}
	var parsed any
	if err := json.Unmarshal(answer, &parsed); err != nil {
		return "the answer is not JSON: " + err.Error()
	}
	if s.Expect.Reason != "" && fmt.Sprint(lookup(parsed, "error.reason")) != s.Expect.Reason {
		return "reason is not " + s.Expect.Reason
	}
	if message := fmt.Sprint(lookup(parsed, "error.message")); s.Expect.Message != "" && !regexp.MustCompile(p.fill(t, s.Expect.Message)).MatchString(message) {
		return "message does not say " + s.Expect.Message
	}
	for path, value := range s.Expect.Fields {
		if got := text(lookup(parsed, p.fill(t, path))); got != p.fill(t, value) {
			return fmt.Sprintf("%s is %q, expected %q", path, got, p.fill(t, value))
		}
	}
	for path, count := range s.Expect.Counts {
		list, _ := lookup(parsed, path).([]any)
		if len(list) != count {
			return fmt.Sprintf("%s has %d entries, expected %d", path, len(list), count)
		}
	}
	for _, forbidden := range s.Expect.Without {
		if bytes.Contains(answer, []byte(p.fill(t, forbidden))) {
			return "the answer says " + p.fill(t, forbidden)
		}
	}
	if same := p.fill(t, s.Same); same != "" && canonical(p.answers[same]) != canonical(answer) {
		return fmt.Sprintf("differs from %s: %s", same, p.answers[same])
	}
	return ""
}

func (p *player) keep(t *testing.T, s step, answer []byte) {
	t.Helper()
	var parsed any
	require.NoError(t, json.Unmarshal(answer, &parsed))
	for name, path := range s.Save {
		value := text(lookup(parsed, path))
		require.NotEmpty(t, value, "%s in %s", path, answer)
		p.vars[p.fill(t, name)] = value
	}
	if s.Remember != "" {
		p.answers[p.fill(t, s.Remember)] = answer
	}
}

// lookup follows a dotted path; a number indexes a list.
func lookup(v any, path string) any {
	for _, part := range strings.Split(path, ".") {
		switch node := v.(type) {
		case map[string]any:
			v = node[part]
		case []any:
			i, err := strconv.Atoi(part)
			if err != nil || i >= len(node) {
				return nil
			}
			v = node[i]
		default:
			return nil
		}
	}
	return v
}

func text(v any) string {
	if v == nil {
		return ""
	}
	return fmt.Sprint(v)
}
