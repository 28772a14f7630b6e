package migrations

import (
	"context"
	"errors"
	"fmt"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// Passwords of the two roles of a schema. Empty leaves the password as it is, which is "none" for a new role.
type Passwords struct{ Owner, App string }

// The service role's limits: a stuck transaction must not hold up the dock. A long report raises its own with SET LOCAL.
var appTimeouts = []struct{ setting, value string }{
	{"lock_timeout", "5s"},
	{"statement_timeout", "30s"},
	{"idle_in_transaction_session_timeout", "10s"},
}

func ownerRole(schema string) string { return schema + "_owner" }

// AppRole is the role the service of a schema logs in as.
func AppRole(schema string) string { return schema + "_app" }

// Provision makes the roles <schema>_owner and <schema>_app, the schema, its default grants and the time limits of the
// service role. adminURL logs in as a role that may create roles and schemas. Repeating it changes nothing.
func Provision(ctx context.Context, adminURL, schema string, p Passwords) (err error) {
	conn, err := pgx.Connect(ctx, adminURL)
	if err != nil {
		return fmt.Errorf("provision schema %s: connect: %w", schema, err)
	}
	defer func() { err = errors.Join(err, conn.Close(context.WithoutCancel(ctx))) }()
	if err := provision(ctx, conn, schema, p); err != nil {
		return fmt.Errorf("provision schema %s: %w", schema, err)
	}
	return nil
}

func provisionIfAble(ctx context.Context, conn *pgx.Conn, schema string) error {
	var able bool
	const q = `SELECT rolsuper OR rolcreaterole FROM pg_roles WHERE rolname = current_user`
	if err := conn.QueryRow(ctx, q).Scan(&able); err != nil {
		return fmt.Errorf("read the rights of the migrating role: %w", err)
	}
	if !able {
		return nil
	}
	return provision(ctx, conn, schema, Passwords{})
}

func provision(ctx context.Context, conn *pgx.Conn, schema string, p Passwords) error {
	roles := []struct{ name, password string }{{ownerRole(schema), p.Owner}, {AppRole(schema), p.App}}
	for _, role := range roles {
		if err := ensureRole(ctx, conn, role.name, role.password); err != nil {
			return err
		}
	}
	if err := ensureTimeouts(ctx, conn, AppRole(schema)); err != nil {
		return err
	}
	return ensureSchema(ctx, conn, schema)
}

func ensureRole(ctx context.Context, conn *pgx.Conn, name, password string) error {
	var exists, member bool
	const q = `SELECT count(*) > 0, coalesce(bool_or(pg_has_role(oid, 'MEMBER')), false) FROM pg_roles WHERE rolname = $1`
	if err := conn.QueryRow(ctx, q, name).Scan(&exists, &member); err != nil {
		return fmt.Errorf("look for role %s: %w", name, err)
	}
	if !exists {
		if err := shared(ctx, conn, "CREATE ROLE %I LOGIN", name); err != nil {
			return fmt.Errorf("create role %s: %w", name, err)
		}
	}
	if !member {
		// A superuser is a member of every role; another administrator must be, to make the schema in its name.
		if err := shared(ctx, conn, "GRANT %I TO CURRENT_USER", name); err != nil {
			return fmt.Errorf("become a member of role %s: %w", name, err)
		}
	}
	if password == "" {
		return nil
	}
	if err := shared(ctx, conn, "ALTER ROLE %I PASSWORD %L", name, password); err != nil {
		return fmt.Errorf("set the password of role %s: %w", name, err)
	}
	return nil
}

// shared runs a statement on a catalogue all databases share. Two provisioning runs, even of different databases, may
// meet there; the loser's work has then been done by the winner or can be repeated.
func shared(ctx context.Context, conn *pgx.Conn, format string, args ...string) error {
	sql, err := render(ctx, conn, format, args...)
	if err != nil {
		return err
	}
	for attempt := 1; ; attempt++ {
		_, err := conn.Exec(ctx, sql)
		var refusal *pgconn.PgError
		if !errors.As(err, &refusal) {
			return err
		}
		switch refusal.Code {
		case "42710", "23505": // duplicate_object, or the race for it
			return nil
		case "XX000": // tuple concurrently updated
			if attempt < 10 {
				continue
			}
		}
		return err
	}
}

// render quotes names (%I) and literals (%L), which DDL does not take as parameters.
func render(ctx context.Context, conn *pgx.Conn, format string, args ...string) (string, error) {
	var sql string
	if err := conn.QueryRow(ctx, "SELECT format($1, VARIADIC $2::text[])", format, args).Scan(&sql); err != nil {
		return "", fmt.Errorf("render a statement: %w", err)
	}
	return sql, nil
}

// ensureTimeouts sets only what differs: the setting lives in a catalogue row all databases of the cluster share.
func ensureTimeouts(ctx context.Context, conn *pgx.Conn, role string) error {
	const q = `SELECT coalesce((SELECT setconfig FROM pg_db_role_setting s JOIN pg_roles r ON r.oid = s.setrole
		WHERE r.rolname = $1 AND s.setdatabase = 0), '{}')`
	var have []string
	if err := conn.QueryRow(ctx, q, role).Scan(&have); err != nil {
		return fmt.Errorf("read the settings of role %s: %w", role, err)
	}
	present := map[string]bool{}
	for _, setting := range have {
		present[setting] = true
	}
	for _, t := range appTimeouts {
		if present[t.setting+"="+t.value] {
			continue
		}
		if err := shared(ctx, conn, "ALTER ROLE %I SET %I = %L", role, t.setting, t.value); err != nil {
			return fmt.Errorf("set %s of role %s: %w", t.setting, role, err)
		}
	}
	return nil
}

func ensureSchema(ctx context.Context, conn *pgx.Conn, schema string) error {
	owner, app := ownerRole(schema), AppRole(schema)
	statements := []struct {
		format string
		args   []string
	}{
		{"CREATE SCHEMA IF NOT EXISTS %I AUTHORIZATION %I", []string{schema, owner}},
		{"GRANT USAGE ON SCHEMA %I TO %I", []string{schema, app}},
		{"ALTER DEFAULT PRIVILEGES FOR ROLE %I IN SCHEMA %I GRANT SELECT, INSERT ON TABLES TO %I", []string{owner, schema, app}},
		{"ALTER DEFAULT PRIVILEGES FOR ROLE %I IN SCHEMA %I GRANT USAGE ON SEQUENCES TO %I", []string{owner, schema, app}},
	}
	for _, s := range statements {
		sql, err := render(ctx, conn, s.format, s.args...)
		if err != nil {
			return err
		}
		if _, err := conn.Exec(ctx, sql); err != nil {
			return fmt.Errorf("prepare the schema: %s: %w", sql, err)
		}
	}
	return nil
}
