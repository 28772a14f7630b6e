package paper

import (
	"encoding/xml"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// run is a program nobody here wrote. One that is missing fails the test: deploy/tools/env.sh installs them.
func run(t testing.TB, name string, arguments ...string) string {
	t.Helper()
	program, err := exec.LookPath(name)
	require.NoError(t, err, "%s is needed; deploy/test installs it", name)
	out, err := exec.Command(program, arguments...).Output()
	require.NoError(t, err, "%s %v", name, arguments)
	return string(out)
}

func saved(t testing.TB, pdf []byte) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "paper.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o600))
	return file
}

// textOf reads a PDF as a person would select it.
func textOf(t testing.TB, pdf []byte) string {
	t.Helper()
	return run(t, "pdftotext", "-layout", saved(t, pdf), "-")
}

// wordsOf is textOf with every gap one space, so that line breaks do not matter.
func wordsOf(t testing.TB, pdf []byte) string {
	t.Helper()
	return strings.Join(strings.Fields(run(t, "pdftotext", saved(t, pdf), "-")), " ")
}

// pagesOf is how many pages a PDF has and their size in points.
func pagesOf(t testing.TB, pdf []byte) (count int, paper string) {
	t.Helper()
	for line := range strings.Lines(run(t, "pdfinfo", saved(t, pdf))) {
		if value, found := strings.CutPrefix(line, "Pages:"); found {
			n, err := strconv.Atoi(strings.TrimSpace(value))
			require.NoError(t, err)
			count = n
		}
		if value, found := strings.CutPrefix(line, "Page size:"); found {
			paper = strings.TrimSpace(value)
		}
	}
	return count, paper
}

// symbol is a code as a scanner reads it.
type symbol struct {
	Type      string `xml:"type,attr"`
	Modifiers string `xml:"modifiers,attr"`
	Data      string `xml:"data"`
}

// scan prints a PDF at the resolution of a label printer and reads every code on every page.
func scan(t testing.TB, pdf []byte) [][]symbol {
	t.Helper()
	file := saved(t, pdf)
	run(t, "pdftoppm", "-r", "203", "-png", file, filepath.Join(filepath.Dir(file), "page"))
	pictures, err := filepath.Glob(filepath.Join(filepath.Dir(file), "page*.png"))
	require.NoError(t, err)
	var found [][]symbol
	for _, picture := range pictures {
		var read struct {
			Symbols []symbol `xml:"source>index>symbol"`
		}
		require.NoError(t, xml.Unmarshal([]byte(run(t, "zbarimg", "--nodbus", "--quiet", "--xml", picture)), &read))
		found = append(found, read.Symbols)
	}
	return found
}
