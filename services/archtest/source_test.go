// Package archtest holds the rules of how the packages of this repository may lean on each other. They are tests, so that
// a breach names the file and the rule on the day it is written.
package archtest

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const (
	module = "barrelhead.example/"
	root   = "../.."
)

// source is one hand-written Go file.
type source struct {
	path    string // from the root of the repository, with slashes
	file    *ast.File
	fset    *token.FileSet
	imports []string
	lines   int
}

func parse(t *testing.T, name, text string) source {
	t.Helper()
	fset := token.NewFileSet()
	file, err := parser.ParseFile(fset, name, text, parser.SkipObjectResolution)
	require.NoError(t, err)
	s := source{path: name, file: file, fset: fset, lines: strings.Count(text, "\n")}
	for _, spec := range file.Imports {
		target, err := strconv.Unquote(spec.Path.Value)
		require.NoError(t, err)
		s.imports = append(s.imports, target)
	}
	return s
}

func (s source) dir() string { return path.Dir(s.path) }

func (s source) test() bool { return strings.HasSuffix(s.path, "_test.go") }

// in says whether the file lies in one of these folders or below; * stands for one name.
func (s source) in(folders ...string) bool {
	for _, f := range folders {
		if under(s.dir(), f) {
			return true
		}
	}
	return false
}

func under(dir, folder string) bool {
	names, want := strings.Split(dir, "/"), strings.Split(folder, "/")
	if len(names) < len(want) {
		return false
	}
	for i, w := range want {
		if w != "*" && w != names[i] {
			return false
		}
	}
	return true
}

// service is "intake" for a file of services/intake, and "" outside the four services.
func (s source) service() string { return serviceOf(s.path) }

func serviceOf(p string) string {
	rest, ok := strings.CutPrefix(p, "services/")
	if !ok {
		return ""
	}
	name, _, _ := strings.Cut(rest, "/")
	switch name {
	case "intake", "grading", "inventory", "settlement":
		return name
	default:
		return ""
	}
}

// ours gives the imports from this repository, as folders from its root, without generated code.
func (s source) ours() []string {
	var dirs []string
	for _, target := range s.imports {
		if dir, ok := strings.CutPrefix(target, module); ok && !under(dir, "proto/gen") {
			dirs = append(dirs, dir)
		}
	}
	return dirs
}

// walk calls visit for every hand-written file below the root, with its path from there.
func walk(t *testing.T, visit func(name string)) {
	t.Helper()
	require.NoError(t, filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name, err := filepath.Rel(root, p)
		if err != nil {
			return err
		}
		name = filepath.ToSlash(name)
		switch {
		case d.IsDir() && name != "." && (strings.HasPrefix(d.Name(), ".") || name == "proto/gen"):
			return fs.SkipDir
		case !d.IsDir():
			visit(name)
		}
		return nil
	}))
}

func read(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(root, name))
	require.NoError(t, err)
	return string(text)
}

func sources(t *testing.T) []source {
	t.Helper()
	var all []source
	walk(t, func(name string) {
		if strings.HasSuffix(name, ".go") {
			all = append(all, parse(t, name, read(t, name)))
		}
	})
	require.Greater(t, len(all), 50, "the walk has lost its way")
	return all
}
