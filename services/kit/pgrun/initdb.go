package pgrun

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
)

// prepare makes the directories and, the first time, the cluster itself.
func (c *Config) prepare(ctx context.Context, id identity) error {
	if barrier := id.reachable(c.Dir); barrier != "" {
		return fmt.Errorf("the server runs as %s, who may not pass %s: keep the cluster elsewhere, e.g. under /var/lib", id.name, barrier)
	}
	if err := os.MkdirAll(filepath.Dir(c.Dir), 0o755); err != nil { //nolint:gosec // the parent is no secret; the cluster's own directory is closed
		return fmt.Errorf("make the parent of %s: %w", c.Dir, err)
	}
	if err := id.own(c.Dir, 0o700); err != nil {
		return err
	}
	if _, err := os.Stat(filepath.Join(c.dataDir(), "PG_VERSION")); err == nil {
		return nil
	} else if !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("look for a cluster: %w", err)
	}
	return c.initdb(ctx, id)
}

// initdb works in a side directory and renames it: a start that died half-way leaves nothing that looks like a cluster.
func (c *Config) initdb(ctx context.Context, id identity) error {
	half := c.dataDir() + ".new"
	if err := os.RemoveAll(half); err != nil {
		return fmt.Errorf("clear a half-made cluster: %w", err)
	}
	if err := c.writePassword(id); err != nil {
		return err
	}
	args := []string{
		"-D", half, "-U", superuser, "--pwfile", c.passwordFile(), "--auth-local=trust", "--auth-host=scram-sha-256",
		"-E", "UTF8", "--locale=C", "--data-checksums",
	}
	if c.Scratch {
		args = append(args, "--no-sync")
	}
	cmd := exec.CommandContext(ctx, filepath.Join(c.BinDir, "initdb"), args...) //nolint:gosec // the binary folder is the operator's own setting
	cmd.Dir = "/"
	cmd.Env = cleanEnv()
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: id.credential()}
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("make the cluster in %s: %w: %s", c.Dir, err, strings.TrimSpace(string(out)))
	}
	if err := os.Rename(half, c.dataDir()); err != nil {
		return fmt.Errorf("put the new cluster in place: %w", err)
	}
	return nil
}

func (c *Config) writePassword(id identity) error {
	if err := os.WriteFile(c.passwordFile(), []byte(rand.Text()), 0o600); err != nil {
		return fmt.Errorf("write the cluster's password: %w", err)
	}
	if id.lent {
		if err := os.Chown(c.passwordFile(), id.uid, id.gid); err != nil {
			return fmt.Errorf("give the password file to %s: %w", id.name, err)
		}
	}
	return nil
}

// cleanEnv keeps PGPORT, PGDATA and their kind, meant for some other server, away from ours.
func cleanEnv() []string {
	var env []string
	for _, kv := range os.Environ() {
		if !strings.HasPrefix(kv, "PG") {
			env = append(env, kv)
		}
	}
	return env
}
