package pgrun

import (
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"
)

// superuser is the bootstrap role of every private cluster.
const superuser = "barrelhead"

// Config says where a cluster lives and how much it may risk.
type Config struct {
	// Dir is owned by the cluster: data, log, password and, where the path is short enough, the socket. Required.
	Dir string
	// BinDir holds initdb and postgres. Empty looks in BARRELHEAD_PG_BIN, then in the usual places, newest version first.
	BinDir string
	// Scratch trades durability for speed: no fsync. Transactions, locks and visibility are unchanged, so tests stay
	// honest, but a power cut may destroy the data. Never for records anybody needs.
	Scratch bool
	// TCP also listens on 127.0.0.1, with a generated password kept in Dir/password. Without it there is only the socket,
	// in a directory no other user may enter.
	TCP bool
	// Port is the TCP port, 0 picks a free one at each start.
	Port int
	// MaxConnections defaults to 200.
	MaxConnections int
	// Settings are further server settings; they win over the defaults.
	Settings map[string]string
	// StartTimeout bounds one start including crash recovery; default 60 s.
	StartTimeout time.Duration
	// Logf receives one line per unexpected event (crash, restart). Nil drops them.
	Logf func(format string, args ...any)
}

func (c *Config) fill() error {
	if c.Dir == "" {
		return fmt.Errorf("the cluster needs a directory")
	}
	dir, err := filepath.Abs(c.Dir)
	if err != nil {
		return fmt.Errorf("resolve the cluster directory: %w", err)
	}
	c.Dir = dir
	if c.BinDir == "" {
		if c.BinDir, err = FindBinaries(); err != nil {
			return err
		}
	}
	if c.MaxConnections == 0 {
		c.MaxConnections = 200
	}
	if c.StartTimeout == 0 {
		c.StartTimeout = time.Minute
	}
	if c.Logf == nil {
		c.Logf = func(string, ...any) {}
	}
	return nil
}

func (c *Config) dataDir() string      { return filepath.Join(c.Dir, "data") }
func (c *Config) logFile() string      { return filepath.Join(c.Dir, "log") }
func (c *Config) passwordFile() string { return filepath.Join(c.Dir, "password") }

// serverSettings are given on the command line, so a setting changed here reaches clusters made by an older release.
func (c *Config) serverSettings() map[string]string {
	s := map[string]string{
		"max_connections":                     fmt.Sprint(c.MaxConnections),
		"unix_socket_permissions":             "0700",
		"log_line_prefix":                     "%m [%p] %u@%d ",
		"log_checkpoints":                     "off",
		"fsync":                               "on",
		"synchronous_commit":                  "on",
		"full_page_writes":                    "on",
		"password_encryption":                 "scram-sha-256",
		"idle_in_transaction_session_timeout": "5min",
		"timezone":                            "UTC",
		"log_timezone":                        "UTC",
		// A quiet table that suddenly fills, as at the start of a season, is read badly until its new size is known.
		"autovacuum_naptime": "15s",
	}
	if c.Scratch {
		s["fsync"] = "off"
		s["full_page_writes"] = "off"
		s["wal_level"] = "minimal"
		s["max_wal_senders"] = "0"
		s["checkpoint_timeout"] = "1h"
		s["max_wal_size"] = "4GB"
	}
	for k, v := range c.Settings {
		s[k] = v
	}
	return s
}

// arguments renders the settings in a stable order, so two starts can be compared in a process list.
func (c *Config) arguments(port int, socketDir string) []string {
	listen := ""
	if c.TCP {
		listen = "127.0.0.1"
	}
	args := []string{"-D", c.dataDir(), "-k", socketDir, "-h", listen, "-p", fmt.Sprint(port)}
	settings := c.serverSettings()
	names := make([]string, 0, len(settings))
	for name := range settings {
		names = append(names, name)
	}
	sort.Strings(names)
	for _, name := range names {
		args = append(args, "-c", name+"="+settings[name])
	}
	return args
}

// logTail explains a failed start in the server's own words.
func (c *Config) logTail() string {
	b, err := os.ReadFile(c.logFile())
	if err != nil {
		return "no server log: " + err.Error()
	}
	const most = 1500
	if len(b) > most {
		b = b[len(b)-most:]
	}
	return strings.TrimSpace(string(b))
}
