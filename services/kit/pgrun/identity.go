package pgrun

import (
	"errors"
	"fmt"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"syscall"
)

// identity is the user the server runs as. PostgreSQL refuses to run as root, so root lends it another one.
type identity struct {
	uid, gid int
	name     string
	lent     bool // true when it differs from the caller
}

func serverIdentity() (identity, error) {
	if uid := os.Geteuid(); uid != 0 {
		return identity{uid: uid, gid: os.Getegid(), name: strconv.Itoa(uid)}, nil
	}
	for _, name := range []string{"postgres", "nobody"} {
		u, err := user.Lookup(name)
		if err != nil {
			continue
		}
		uid, errUID := strconv.Atoi(u.Uid)
		gid, errGID := strconv.Atoi(u.Gid)
		if err := errors.Join(errUID, errGID); err != nil {
			return identity{}, fmt.Errorf("read the ids of user %s: %w", name, err)
		}
		return identity{uid: uid, gid: gid, name: name, lent: true}, nil
	}
	return identity{}, errors.New("running as root, but there is neither a user postgres nor a user nobody to run the server as")
}

func (id identity) credential() *syscall.Credential {
	if !id.lent {
		return nil
	}
	return &syscall.Credential{Uid: uint32(id.uid), Gid: uint32(id.gid)} //nolint:gosec // ids of the system's own user table are never negative
}

// own creates dir for the server alone and refuses one that somebody else prepared, e.g. in a shared /tmp.
func (id identity) own(dir string, mode os.FileMode) error {
	if err := os.Mkdir(dir, mode); err != nil && !errors.Is(err, os.ErrExist) {
		return fmt.Errorf("make %s: %w", dir, err)
	}
	info, err := os.Lstat(dir)
	if err != nil {
		return fmt.Errorf("inspect %s: %w", dir, err)
	}
	stat, ok := info.Sys().(*syscall.Stat_t)
	if !ok || !info.IsDir() {
		return fmt.Errorf("%s is not a directory", dir)
	}
	if owner := int(stat.Uid); owner != id.uid && owner != os.Geteuid() {
		return fmt.Errorf("%s belongs to user %d, not to %s: choose another directory", dir, owner, id.name)
	}
	if id.lent {
		if err := os.Lchown(dir, id.uid, id.gid); err != nil {
			return fmt.Errorf("give %s to %s: %w", dir, id.name, err)
		}
	}
	if err := os.Chmod(dir, mode); err != nil {
		return fmt.Errorf("set the mode of %s: %w", dir, err)
	}
	return nil
}

// reachable reports the first parent of dir the server could not pass through, "" if there is none.
func (id identity) reachable(dir string) string {
	if !id.lent {
		return ""
	}
	for parent := filepath.Dir(dir); ; parent = filepath.Dir(parent) {
		info, err := os.Stat(parent)
		if err == nil && !id.mayPass(info) {
			return parent
		}
		if parent == filepath.Dir(parent) {
			return ""
		}
	}
}

func (id identity) mayPass(info os.FileInfo) bool {
	mode := info.Mode().Perm()
	stat, ok := info.Sys().(*syscall.Stat_t)
	switch {
	case !ok:
		return true
	case int(stat.Uid) == id.uid:
		return mode&0o100 != 0
	case int(stat.Gid) == id.gid:
		return mode&0o010 != 0
	default:
		return mode&0o001 != 0
	}
}

// Place returns the first of the directories in which a cluster of this process could live: root lends the server a
// user that cannot look into, say, /root.
func Place(candidates ...string) (string, error) {
	id, err := serverIdentity()
	if err != nil {
		return "", err
	}
	var refusals []error
	for _, dir := range candidates {
		abs, err := filepath.Abs(dir)
		if err != nil {
			return "", fmt.Errorf("resolve %s: %w", dir, err)
		}
		barrier := id.reachable(abs)
		if barrier == "" {
			return abs, nil
		}
		refusals = append(refusals, fmt.Errorf("%s: user %s may not pass %s", abs, id.name, barrier))
	}
	return "", fmt.Errorf("no place for a database cluster: %w", errors.Join(refusals...))
}
