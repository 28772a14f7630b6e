package pgrun

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
)

// ErrNoServer means that no PostgreSQL server is installed where this package looks.
var ErrNoServer = fmt.Errorf("no PostgreSQL server found: install it (Debian, Ubuntu: apt-get install postgresql) or set BARRELHEAD_PG_BIN to the folder of initdb and postgres")

// FindBinaries returns the folder of initdb and postgres: BARRELHEAD_PG_BIN if set, else the newest version installed in
// the places distributions use (Debian keeps them off the PATH), else the PATH.
func FindBinaries() (string, error) {
	if dir := os.Getenv("BARRELHEAD_PG_BIN"); dir != "" {
		if hasServer(dir) {
			return dir, nil
		}
		return "", fmt.Errorf("BARRELHEAD_PG_BIN is %s, but it holds no initdb and postgres", dir)
	}
	for _, pattern := range []string{"/usr/lib/postgresql/*/bin", "/usr/pgsql-*/bin", "/opt/homebrew/opt/postgresql@*/bin"} {
		dirs, err := filepath.Glob(pattern)
		if err != nil {
			return "", fmt.Errorf("look for a server in %s: %w", pattern, err)
		}
		sort.Slice(dirs, func(i, j int) bool { return versionIn(dirs[i]) > versionIn(dirs[j]) })
		for _, dir := range dirs {
			if hasServer(dir) {
				return dir, nil
			}
		}
	}
	if path, err := exec.LookPath("initdb"); err == nil && hasServer(filepath.Dir(path)) {
		return filepath.Dir(path), nil
	}
	return "", ErrNoServer
}

func hasServer(dir string) bool {
	for _, name := range []string{"initdb", "postgres"} {
		if info, err := os.Stat(filepath.Join(dir, name)); err != nil || info.IsDir() {
			return false
		}
	}
	return true
}

// versionIn compares as numbers: as text, 9 would beat 15.
func versionIn(binDir string) int {
	name := filepath.Base(filepath.Dir(binDir))
	digits := strings.TrimLeft(name, "abcdefghijklmnopqrstuvwxyz-@")
	major, _, _ := strings.Cut(digits, ".")
	n, err := strconv.Atoi(major)
	if err != nil {
		return 0
	}
	return n
}
