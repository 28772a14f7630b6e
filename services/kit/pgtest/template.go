package pgtest

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"sync"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/migrations"
)

// templates holds one result per schema: within a process the migrations cannot change.
var templates struct {
	sync.Mutex
	names map[string]string
}

func ensureTemplate(ctx context.Context, server, schema string) (string, error) {
	templates.Lock()
	defer templates.Unlock()
	if name, ok := templates.names[schema]; ok {
		return name, nil
	}
	digest, err := contentHash("kit", schema)
	if err != nil {
		return "", err
	}
	name := fmt.Sprintf("template_%s_%s", schema, digest)
	if err := buildTemplate(ctx, server, schema, name); err != nil {
		return "", err
	}
	if templates.names == nil {
		templates.names = map[string]string{}
	}
	templates.names[schema] = name
	return name, nil
}

// contentHash names a template by what went into it, so an edited migration gets a new one.
func contentHash(folders ...string) (string, error) {
	h := sha256.New()
	for _, folder := range folders {
		err := fs.WalkDir(migrations.Files(), folder, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			content, err := fs.ReadFile(migrations.Files(), path)
			fmt.Fprintf(h, "%s %d\n%s", path, len(content), content)
			return err
		})
		if err != nil {
			return "", fmt.Errorf("hash the migrations of %s: %w", folder, err)
		}
	}
	return hex.EncodeToString(h.Sum(nil)[:8]), nil
}

// buildTemplate migrates under another name and renames, so a template is either whole or absent. The advisory lock
// keeps a second test process waiting instead of migrating too.
func buildTemplate(ctx context.Context, server, schema, name string) (err error) {
	conn, err := pgx.Connect(ctx, server)
	if err != nil {
		return fmt.Errorf("connect to the test server: %w", err)
	}
	defer func() { err = errors.Join(err, conn.Close(context.WithoutCancel(ctx))) }()
	if _, err := conn.Exec(ctx, "SELECT pg_advisory_lock(hashtext($1))", name); err != nil {
		return fmt.Errorf("lock the template: %w", err)
	}
	var exists bool
	if err := conn.QueryRow(ctx, "SELECT count(*) > 0 FROM pg_database WHERE datname = $1", name).Scan(&exists); err != nil || exists {
		return err
	}
	half := name + "_half"
	for _, sql := range []string{"DROP DATABASE IF EXISTS " + half, "CREATE DATABASE " + half + " TEMPLATE template0"} {
		if _, err := conn.Exec(ctx, sql); err != nil {
			return fmt.Errorf("%s: %w", sql, err)
		}
	}
	if err := fill(ctx, withDatabase(server, half), schema); err != nil {
		return err
	}
	if _, err := conn.Exec(ctx, fmt.Sprintf("ALTER DATABASE %s RENAME TO %s", half, name)); err != nil {
		return fmt.Errorf("finish the template: %w", err)
	}
	return nil
}

// fill goes the way of a deployment: the administrator provisions, the owner migrates.
func fill(ctx context.Context, admin, schema string) error {
	password := passwordOf(admin)
	if err := migrations.Provision(ctx, admin, schema, migrations.Passwords{Owner: password, App: password}); err != nil {
		return err
	}
	return migrations.Up(ctx, schema, as(admin, schema+"_owner"))
}
