package session

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/pg"
)

// Resource is the name of a login in answers, "logins/dock1".
func Resource(login string) string { return "logins/" + login }

// Create makes a login. by is who did it, "users/…". ALREADY_EXISTS if the name was ever given.
func (k *Keeper) Create(ctx context.Context, by string, l Login, password string) (Login, error) {
	l.Name = normal(l.Name)
	if err := apierr.Fields(append(checkLogin(l), checkPassword("password", l.Name, password)...)...); err != nil {
		return Login{}, err
	}
	hash, err := k.hasher.make(ctx, password)
	if err != nil {
		return Login{}, err
	}
	l.Active, l.CreateTime = true, k.clock.Now()
	err = k.db.InTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `INSERT INTO login (login, password_hash, roles, member, create_time)
			VALUES ($1, $2, $3, nullif($4, ''), $5)`, l.Name, hash, roleNames(l.Roles), l.Member, l.CreateTime)
		if err != nil {
			return err
		}
		return k.record(ctx, tx, event{login: l.Name, kind: eventCreated, actor: by, detail: access.FormatRoles(l.Roles) + " " + l.Member})
	})
	if taken := pg.Named(err, map[string]error{"login_pkey": errTaken}); errors.Is(taken, errTaken) {
		return Login{}, apierr.AlreadyExists(Resource(l.Name), fmt.Sprintf("the login %s exists already; choose another name", l.Name))
	}
	if err != nil {
		return Login{}, fmt.Errorf("create login: %w", err)
	}
	return l, nil
}

var errTaken = errors.New("login name taken")

// Get returns one login. NOT_FOUND if there is none.
func (k *Keeper) Get(ctx context.Context, name string) (Login, error) {
	row := k.db.Pool().QueryRow(ctx, selectLogin+` WHERE login = $1`, normal(name))
	l, err := scanLogin(row)
	if errors.Is(err, pgx.ErrNoRows) {
		return Login{}, apierr.NotFound(Resource(normal(name)))
	}
	if err != nil {
		return Login{}, fmt.Errorf("read login: %w", err)
	}
	return l, nil
}

// List returns up to most logins by name, those after a name.
func (k *Keeper) List(ctx context.Context, after string, most int) ([]Login, error) {
	rows, err := k.db.Pool().Query(ctx, selectLogin+` WHERE login > $1 ORDER BY login LIMIT $2`, after, most)
	if err != nil {
		return nil, fmt.Errorf("list logins: %w", err)
	}
	logins, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (Login, error) { return scanLogin(row) })
	if err != nil {
		return nil, fmt.Errorf("list logins: %w", err)
	}
	return logins, nil
}

// SetPassword gives a login a new password and ends its sessions at once.
func (k *Keeper) SetPassword(ctx context.Context, by, name, password string) error {
	name = normal(name)
	if err := apierr.Fields(checkPassword("password", name, password)...); err != nil {
		return err
	}
	hash, err := k.hasher.make(ctx, password)
	if err != nil {
		return err
	}
	return k.change(ctx, name, event{kind: eventPasswordSet, actor: by}, func(ctx context.Context, tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `UPDATE login SET password_hash = $2 WHERE login = $1`, name, hash)
		return err
	})
}

// SetRoles changes what a login may do, at once. Its sessions end.
func (k *Keeper) SetRoles(ctx context.Context, by string, l Login) error {
	l.Name = normal(l.Name)
	if err := apierr.Fields(checkRoles(l)...); err != nil {
		return err
	}
	e := event{kind: eventRolesSet, actor: by, detail: access.FormatRoles(l.Roles) + " " + l.Member}
	return k.change(ctx, l.Name, e, func(ctx context.Context, tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `UPDATE login SET roles = $2, member = nullif($3, '') WHERE login = $1`, l.Name, roleNames(l.Roles), l.Member)
		return err
	})
}

// SetActive shuts a login out, ending its sessions at once, or lets it in again.
func (k *Keeper) SetActive(ctx context.Context, by, name string, active bool) error {
	name = normal(name)
	kind := eventDeactivated
	if active {
		kind = eventActivated
	}
	return k.change(ctx, name, event{kind: kind, actor: by}, func(ctx context.Context, tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `UPDATE login SET active = $2 WHERE login = $1`, name, active)
		return err
	})
}

// change runs do on one login, ends its sessions and writes the event, all or nothing. It refuses to leave the
// cooperative without an administrator, for then nobody could let anybody in again.
func (k *Keeper) change(ctx context.Context, name string, e event, do func(context.Context, pgx.Tx) error) error {
	e.login = name
	err := k.db.InTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		// One change of logins at a time: two administrators deactivating each other must not both succeed.
		if _, err := tx.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtext('gateway.login'))`); err != nil {
			return err
		}
		var wasAdministrator bool
		err := tx.QueryRow(ctx, `SELECT active AND $2 = ANY (roles) FROM login WHERE login = $1 FOR UPDATE`, name, administrator).Scan(&wasAdministrator)
		if errors.Is(err, pgx.ErrNoRows) {
			return apierr.NotFound(Resource(name))
		}
		if err != nil {
			return err
		}
		if err := do(ctx, tx); err != nil {
			return err
		}
		if wasAdministrator {
			if err := checkAdministrators(ctx, tx, name); err != nil {
				return err
			}
		}
		if err := k.endAll(ctx, tx, name); err != nil {
			return err
		}
		return k.record(ctx, tx, e)
	})
	k.recent.forget()
	if err != nil {
		return fmt.Errorf("change login: %w", err)
	}
	return nil
}

var administrator = access.RoleName(accessv1.Role_ROLE_ADMINISTRATOR)

func checkAdministrators(ctx context.Context, q pg.Querier, name string) error {
	var left int
	if err := q.QueryRow(ctx, `SELECT count(*) FROM login WHERE active AND $1 = ANY (roles)`, administrator).Scan(&left); err != nil {
		return err
	}
	if left == 0 {
		return apierr.Reason(errorv1.Reason_REASON_STATE_FORBIDS,
			"this is the last active administrator; make another one first", map[string]string{"resource": Resource(name), "state": "LAST_ADMINISTRATOR"})
	}
	return nil
}

const selectLogin = `SELECT login, roles, coalesce(member, ''), active, create_time FROM login`

func scanLogin(row pgx.Row) (Login, error) {
	var l Login
	var names []string
	if err := row.Scan(&l.Name, &names, &l.Member, &l.Active, &l.CreateTime); err != nil {
		return Login{}, err
	}
	var err error
	l.Roles, err = rolesOf(names)
	return l, err
}

func rolesOf(names []string) ([]accessv1.Role, error) {
	return access.ParseRoles(strings.Join(names, ","))
}

func roleNames(roles []accessv1.Role) []string {
	names := make([]string, 0, len(roles))
	for _, r := range roles {
		names = append(names, access.RoleName(r))
	}
	return names
}
