package suite

import (
	"archive/tar"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/migrations"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgrun"
)

// Restored is what came back.
type Restored struct {
	// Events checked in the log of each schema: every one is what was once recorded.
	Events map[string]int64
	// KeyMissing is where the key of bank account numbers belongs, empty when it is there.
	KeyMissing string
}

// Restore makes an empty folder what it was when the archive was written, brings the tables to this release and verifies
// every log. A folder in which something is kept is refused.
func (o Options) Restore(ctx context.Context, file string) (r Restored, err error) {
	config, err := o.clusterConfig()
	if err != nil {
		return r, err
	}
	for _, dir := range []string{o.Home, filepath.Dir(config.Dir)} {
		if entries, err := os.ReadDir(dir); err != nil || len(entries) > 0 {
			return r, errors.Join(err, fmt.Errorf("%s is not empty: restore into a new folder, nothing is ever written over", dir))
		}
	}
	if err := o.unpack(file); err != nil {
		return r, fmt.Errorf("unpack %s: %w", file, err)
	}
	dump := filepath.Join(o.Home, dumpName)
	err = pgrun.Visit(ctx, config, func(ctx context.Context, c *pgrun.Cluster) error {
		if err := refill(ctx, c, dump); err != nil {
			return err
		}
		if _, err := Migrate(ctx, c); err != nil {
			return err
		}
		r.Events, err = o.verify(ctx, c)
		return err
	})
	if key := filepath.Join(o.certDir(), accountKey); !exists(key) {
		r.KeyMissing = key
	}
	return r, errors.Join(err, os.Remove(dump))
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

func (o Options) unpack(file string) (err error) {
	in, err := os.Open(file)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, in.Close()) }()
	zipped, err := gzip.NewReader(in)
	if err != nil {
		return fmt.Errorf("it is no backup: %w", err)
	}
	for archive := tar.NewReader(zipped); ; {
		header, err := archive.Next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if err := o.put(header.Name, archive); err != nil {
			return err
		}
	}
}

// put writes one file of the archive, never outside the folder.
func (o Options) put(name string, from io.Reader) error {
	if !filepath.IsLocal(name) {
		return fmt.Errorf("the archive holds %q, which is no path inside a folder", name)
	}
	path := filepath.Join(o.Home, name)
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return err
	}
	out, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, from)
	return errors.Join(err, out.Close())
}

// refill makes the roles, which an archive does not hold, and then the tables with what is in them.
func refill(ctx context.Context, c *pgrun.Cluster, dump string) error {
	if err := createDatabase(ctx, c.URL("postgres")); err != nil {
		return err
	}
	for _, schema := range migrations.Schemas() {
		if err := migrations.Provision(ctx, c.URL(database), schema, migrations.Passwords{}); err != nil {
			return err
		}
		if err := dropSchema(ctx, c.URL(database), schema); err != nil {
			return err
		}
	}
	return program(ctx, io.Discard, "pg_restore", "--exit-on-error", "--single-transaction", "--dbname="+c.URL(database), dump)
}

// dropSchema takes away the empty schema that came with its roles: the archive brings its own.
func dropSchema(ctx context.Context, url, schema string) (err error) {
	conn, err := pgx.Connect(ctx, url)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, conn.Close(ctx)) }()
	_, err = conn.Exec(ctx, "DROP SCHEMA "+pgx.Identifier{schema}.Sanitize())
	return err
}

func (o Options) verify(ctx context.Context, c *pgrun.Cluster) (map[string]int64, error) {
	events := map[string]int64{}
	for _, schema := range migrations.Schemas() {
		db, err := pg.Open(ctx, pg.Config{URL: c.URLAs(schema+"_app", "", database), Schema: schema}, o.Log)
		if err != nil {
			return nil, err
		}
		if err = feed.Number(ctx, db.Pool()); err == nil {
			events[schema], err = feed.Verify(ctx, db)
		}
		db.Close()
		if err != nil {
			return nil, fmt.Errorf("%s: %w", schema, err)
		}
	}
	return events, nil
}
