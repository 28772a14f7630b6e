package migrations

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"hash/fnv"
	"io/fs"
	"path"
	"strconv"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"
)

//go:embed kit/*.sql intake/*.sql grading/*.sql inventory/*.sql settlement/*.sql gateway/*.sql
var files embed.FS

const (
	kitFolder = "kit"
	// The version tables, read by pg.DB.Ready.
	kitVersions     = "migration_kit"
	serviceVersions = "migration"
)

// Schemas lists every schema, in the order honey travels.
func Schemas() []string { return []string{"intake", "grading", "inventory", "settlement", "gateway"} }

// Files gives the migration files, to hash them.
func Files() fs.FS { return files }

// Latest is the version a fully migrated schema has: the number of the last shared migration plus that of its own last.
// It is 0 for an unknown schema.
func Latest(schema string) int64 {
	own := lastNumber(schema)
	if own == 0 {
		return 0
	}
	return lastNumber(kitFolder) + own
}

func lastNumber(folder string) int64 {
	entries, err := fs.ReadDir(files, folder)
	if err != nil {
		return 0
	}
	var last int64
	for _, entry := range entries {
		digits, _, _ := strings.Cut(entry.Name(), "_")
		if n, err := strconv.ParseInt(digits, 10, 64); err == nil && n > last {
			last = n
		}
	}
	return last
}

// Up brings schema to the newest version; a schema already there is left alone. Runs of several processes wait for each
// other. ownerURL logs in as <schema>_owner, or as a role that may create roles: then what Provision makes is made here
// too, without passwords, and the migrations still run as the owner.
func Up(ctx context.Context, schema, ownerURL string) error {
	if Latest(schema) == 0 {
		return fmt.Errorf("there are no migrations for a schema %q", schema)
	}
	config, err := pgx.ParseConfig(ownerURL)
	if err != nil {
		// The cause repeats the URL, and the URL may hold a password.
		return errors.New("the owner's database URL cannot be parsed")
	}
	if err := withLock(ctx, config, schema, func(conn *pgx.Conn) error {
		if err := provisionIfAble(ctx, conn, schema); err != nil {
			return err
		}
		return run(ctx, config, schema)
	}); err != nil {
		return fmt.Errorf("migrate schema %s: %w", schema, err)
	}
	return nil
}

// withLock holds the schema's migration lock for as long as its connection lives, so a crash cannot leave it behind.
func withLock(ctx context.Context, config *pgx.ConnConfig, schema string, fn func(*pgx.Conn) error) (err error) {
	conn, err := pgx.ConnectConfig(ctx, config)
	if err != nil {
		return fmt.Errorf("connect: %w", err)
	}
	defer func() { err = errors.Join(err, conn.Close(context.WithoutCancel(ctx))) }()
	if _, err := conn.Exec(ctx, "SELECT pg_advisory_lock($1)", lockKey(schema)); err != nil {
		return fmt.Errorf("take the migration lock: %w", err)
	}
	return fn(conn)
}

func lockKey(schema string) int64 {
	h := fnv.New64a()
	h.Write([]byte("barrelhead migration " + schema))
	return int64(h.Sum64()) //nolint:gosec // any 64 bits will do as a lock key
}

func run(ctx context.Context, config *pgx.ConnConfig, schema string) (err error) {
	config = config.Copy()
	config.RuntimeParams["role"] = ownerRole(schema)
	// Without pg_temp at the end, a temporary table could stand in for a real one inside the owner's functions.
	config.RuntimeParams["search_path"] = schema + ", pg_temp"
	db := stdlib.OpenDB(*config)
	defer func() { err = errors.Join(err, db.Close()) }()
	for _, part := range []struct{ folder, versions string }{{kitFolder, kitVersions}, {schema, serviceVersions}} {
		if err := apply(ctx, db, part.folder, part.versions); err != nil {
			return err
		}
		// The version tables are born with the default grants like any other.
		if _, err := db.ExecContext(ctx, fmt.Sprintf("REVOKE INSERT ON %s FROM %s", part.versions, AppRole(schema))); err != nil {
			return fmt.Errorf("close the version table: %w", err)
		}
	}
	return nil
}

func apply(ctx context.Context, db *sql.DB, folder, versions string) error {
	sub, err := fs.Sub(files, folder)
	if err != nil {
		return fmt.Errorf("open the migrations of %s: %w", folder, err)
	}
	provider, err := goose.NewProvider(goose.DialectPostgres, db, sub, goose.WithTableName(versions), goose.WithDisableGlobalRegistry(true))
	if err != nil {
		return fmt.Errorf("read the migrations of %s: %w", folder, err)
	}
	results, err := provider.Up(ctx)
	if err != nil {
		return fmt.Errorf("apply the migrations of %s: %w", folder, err)
	}
	for _, r := range results {
		if r.Error != nil {
			return fmt.Errorf("apply %s: %w", path.Join(folder, r.Source.Path), r.Error)
		}
	}
	return nil
}
