package suite

import (
	"archive/tar"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"

	"barrelhead.example/services/kit/pgrun"
)

// dumpName is the database in an archive: one snapshot of all schemas, so that no feed is ahead of its reader.
const dumpName = "database.dump"

// Backup writes everything that is kept, but the key of bank account numbers, into one new file. The suite may be running.
// It returns the path of that key, of which a copy belongs somewhere else: whoever finds the archive should not be able to
// read the numbers, and without the key nobody is.
func (o Options) Backup(ctx context.Context, file string) (key string, err error) {
	dump, err := os.CreateTemp(filepath.Dir(file), ".barrelhead-dump-")
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, dump.Close(), os.Remove(dump.Name())) }()
	if err := o.dump(ctx, dump); err != nil {
		return "", err
	}
	if _, err := dump.Seek(0, io.SeekStart); err != nil {
		return "", err
	}
	return filepath.Join(o.certDir(), accountKey), o.pack(file, dump)
}

func (o Options) dump(ctx context.Context, into io.Writer) error {
	config, err := o.clusterConfig()
	if err != nil {
		return err
	}
	return pgrun.Visit(ctx, config, func(ctx context.Context, c *pgrun.Cluster) error {
		return program(ctx, into, "pg_dump", "--format=custom", "--dbname="+c.URL(database))
	})
}

// program runs one of PostgreSQL's own, from beside the server, so that its version fits.
func program(ctx context.Context, out io.Writer, name string, args ...string) error {
	bin, err := pgrun.FindBinaries()
	if err != nil {
		return err
	}
	cmd := exec.CommandContext(ctx, filepath.Join(bin, name), args...) //nolint:gosec // the server's own folder
	var complaint tail
	cmd.Stdout, cmd.Stderr = out, &complaint
	if err := cmd.Run(); err != nil {
		return fmt.Errorf("%s: %w: %s", name, err, complaint)
	}
	return nil
}

// tail keeps the end of what a program complains about.
type tail []byte

func (t *tail) Write(b []byte) (int, error) {
	const most = 2000
	*t = append(*t, b...)
	*t = (*t)[max(len(*t)-most, 0):]
	return len(b), nil
}

// pack never replaces an archive: a backup that fails half way must not cost the last good one.
func (o Options) pack(file string, dump *os.File) (err error) {
	out, err := os.OpenFile(file, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	defer func() {
		if err = errors.Join(err, out.Close()); err != nil {
			err = errors.Join(err, os.Remove(file))
		}
	}()
	zipped := gzip.NewWriter(out)
	archive := tar.NewWriter(zipped)
	if err := add(archive, dumpName, dump); err != nil {
		return err
	}
	if err := o.addKept(archive); err != nil {
		return err
	}
	return errors.Join(archive.Close(), zipped.Close(), out.Sync())
}

func (o Options) addKept(archive *tar.Writer) error {
	return filepath.WalkDir(o.Home, func(path string, entry fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case entry.IsDir() && entry.Name() == clusterFolder:
			return fs.SkipDir
		case !entry.Type().IsRegular() || entry.Name() == accountKey:
			return nil
		}
		name, err := filepath.Rel(o.Home, path)
		if err != nil {
			return err
		}
		f, err := os.Open(path) //nolint:gosec // a file of the suite's own folder
		if err != nil {
			return err
		}
		return errors.Join(add(archive, filepath.ToSlash(name), f), f.Close())
	})
}

func add(archive *tar.Writer, name string, f *os.File) error {
	info, err := f.Stat()
	if err != nil {
		return err
	}
	header := &tar.Header{Name: name, Mode: 0o600, Size: info.Size(), ModTime: info.ModTime()}
	if err := archive.WriteHeader(header); err != nil {
		return err
	}
	if _, err := io.Copy(archive, f); err != nil {
		return fmt.Errorf("pack %s: %w", name, err)
	}
	return nil
}
