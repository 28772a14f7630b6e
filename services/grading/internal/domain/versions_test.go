package domain_test

import (
	"bufio"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"barrelhead.example/services/grading/internal/domain"
)

// newVersion is the house standard with a stricter limit of water from a day to come.
func newVersion(t testing.TB, version, day string) *domain.Standard {
	t.Helper()
	s, err := domain.ParseStandard(newVersionText(t, version, day))
	require.NoError(t, err)
	return s
}

func newVersionText(t testing.TB, version, day string) []byte {
	t.Helper()
	text, err := domain.StandardText(domain.HouseStandard)
	require.NoError(t, err)
	changed := strings.NewReplacer(`"version": "1985-1"`, `"version": "`+version+`"`, `"effective_date": "1985-05-23"`, `"effective_date": "`+day+`"`,
		`"at_most": "18.6"`, `"at_most": "18.0"`).Replace(string(text))
	require.NotEqual(t, string(text), changed)
	return []byte(changed)
}

func TestAVersionAppliesFromItsDay(t *testing.T) {
	t.Parallel()
	lib, err := domain.NewLibrary(append(domain.Published().All(), newVersion(t, "2027-1", "2027-01-01"), newVersion(t, "2030-1", "2030-06-15"))...)
	require.NoError(t, err)
	for day, want := range map[string]string{
		"1985-05-23": "1985-1", "2026-12-31": "1985-1", "2027-01-01": "2027-1", "2030-06-14": "2027-1", "2030-06-15": "2030-1", "2099-01-01": "2030-1",
	} {
		s, err := lib.InForce("standards/"+domain.HouseStandard, day)
		require.NoError(t, err)
		require.Equal(t, want, s.Version, day)
		require.Equal(t, s, lib.HouseOn(day))
	}
	_, err = lib.InForce("standards/"+domain.HouseStandard, "1985-05-22")
	require.ErrorContains(t, err, "applies from 1985-05-23 and not yet on 1985-05-22")
	require.Equal(t, "1985-1", lib.HouseOn("1980-01-01").Version, "a wrong clock stops nobody's work")
	old, err := lib.Version("standards/"+domain.HouseStandard, "1985-1")
	require.NoError(t, err)
	require.Equal(t, "2027-01-01", lib.ReplacedOn(old))
	require.Empty(t, lib.ReplacedOn(lib.HouseOn("2031-01-01")))
	_, err = lib.Version("standards/"+domain.HouseStandard, "1984-1")
	require.ErrorContains(t, err, `has no version "1984-1"`)
	// Each standard answers a comparison once, by the version of the day.
	q, err := domain.Ask(domain.Strained, map[domain.Factor]string{domain.Moisture: "18.3"})
	require.NoError(t, err)
	for day, want := range map[string]string{"2026-09-14": "1985-1/A", "2028-09-14": "2027-1/C"} {
		c, err := lib.Compare(&q, day)
		require.NoError(t, err)
		var got []string
		for _, d := range c.Decisions {
			if d.Standard == "standards/"+domain.HouseStandard {
				got = append(got, d.StandardVersion+"/"+d.Grade)
			}
		}
		require.Equal(t, []string{want}, got)
	}
}

func TestVersionsThatCannotBeToldApartAreRefused(t *testing.T) {
	t.Parallel()
	_, err := domain.NewLibrary(append(domain.Published().All(), newVersion(t, "1985-1", "2027-01-01"), newVersion(t, "2027-1", "1985-05-23"))...)
	require.ErrorContains(t, err, "has version 1985-1 twice")
	require.ErrorContains(t, err, "both apply from 1985-05-23")
}

func TestAFolderMayBringNewVersions(t *testing.T) {
	t.Parallel()
	lib, err := domain.ReadLibrary(fstest.MapFS{
		"us-2027.json": {Data: newVersionText(t, "2027-1", "2027-01-01")}, "notes.txt": {Data: []byte("not a standard")},
	})
	require.NoError(t, err)
	require.Len(t, lib.All(), len(domain.Published().All())+1)
	_, err = domain.ReadLibrary(fstest.MapFS{
		"a.json": {Data: []byte(`{`)}, "b.json": {Data: newVersionText(t, "2027-1", "next year")},
	})
	require.ErrorContains(t, err, "standard a.json")
	require.ErrorContains(t, err, `effective_date "next year" is no date`)
}

// A certificate is worked out by the version it names, whatever came later.
func TestOldCertificatesComeOutAlikeForEver(t *testing.T) {
	t.Parallel()
	before := domain.Published()
	after, err := domain.NewLibrary(append(before.All(), newVersion(t, "2027-1", "2027-01-01"))...)
	require.NoError(t, err)
	for _, c := range recorded(t) {
		for _, lib := range []*domain.Library{before, after} {
			d, err := lib.Recompute(&c.Certificate)
			require.NoError(t, err)
			text, err := json.Marshal(d)
			require.NoError(t, err)
			require.Equal(t, c.Text, string(text), "%s", c.name)
		}
	}
	empty, err := domain.NewLibrary()
	require.NoError(t, err)
	c := recorded(t)[0].Certificate
	_, err = empty.Recompute(&c)
	var missing *domain.NotFoundError
	require.ErrorAs(t, err, &missing)
}

// A record is a certificate as it was stored on the day it was issued. Files are only ever added.
type record struct {
	domain.Certificate
	Text string
	name string
}

func recorded(t testing.TB) []record {
	t.Helper()
	files, err := filepath.Glob("testdata/certificates/*.json")
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(files), 4)
	var out []record
	for _, name := range files {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		var f struct {
			Sample, Variety string
			Style           domain.Style
			Decision        json.RawMessage
			Readings        []domain.Reading
		}
		require.NoError(t, json.Unmarshal(text, &f))
		r := record{name: name, Text: string(f.Decision), Certificate: domain.Certificate{
			ID: uuid.New(), Sample: f.Sample, Variety: f.Variety, Style: f.Style, Readings: f.Readings,
		}}
		require.NoError(t, json.Unmarshal(f.Decision, &r.Decision))
		out = append(out, r)
	}
	return out
}

// A version of a standard never changes once certificates name it: a change is a new file with a new version. Each line
// holds the SHA-256 of a data file as it was first published. No certificate names any but the house standard yet.
func TestPublishedVersionsNeverChange(t *testing.T) {
	t.Parallel()
	f, err := os.Open("testdata/standards.sha256")
	require.NoError(t, err)
	defer func() { require.NoError(t, f.Close()) }()
	known := map[string]string{}
	for lines := bufio.NewScanner(f); lines.Scan(); {
		sum, name, ok := strings.Cut(lines.Text(), "  ")
		require.True(t, ok, lines.Text())
		known[name] = sum
	}
	files, err := filepath.Glob("standards/*.json")
	require.NoError(t, err)
	for _, name := range files {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		require.Equal(t, known[filepath.Base(name)], fmt.Sprintf("%x", sha256.Sum256(text)),
			"%s changed: put the change into a new file with a new version and effective date", name)
	}
	require.Len(t, files, len(known), "a version once published is never taken away")
}
