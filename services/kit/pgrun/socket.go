package pgrun

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net"
	"path/filepath"
)

// longestSocketPath is what fits into sockaddr_un on Linux (108 bytes with its final zero) less room for the lock file.
const longestSocketPath = 100

// socketDir lies in the cluster's directory or, where that path is too long for a socket, under /tmp with a name made
// from it, so a restart finds the same one.
func (c *Config) socketDir() string {
	dir := filepath.Join(c.Dir, "run")
	if len(filepath.Join(dir, ".s.PGSQL.65535")) <= longestSocketPath {
		return dir
	}
	sum := sha256.Sum256([]byte(c.Dir))
	return "/tmp/barrelhead-" + hex.EncodeToString(sum[:8])
}

// freePort can lose the port to another process before the server takes it; Start then tries another.
func freePort() (int, error) {
	l, err := net.Listen("tcp", "127.0.0.1:0") //nolint:noctx // a local bind does not wait
	if err != nil {
		return 0, fmt.Errorf("find a free port: %w", err)
	}
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port, nil
}
