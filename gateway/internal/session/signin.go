package session

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	"barrelhead.example/services/kit/apierr"
)

// Session is a person who signed in, for as long as it lasts.
type Session struct {
	Login
	// ExpireTime is when it ends even if it is used.
	ExpireTime time.Time
}

// errNoEntry is one answer for a wrong password, an unknown login and a deactivated one: it must not tell which.
func errNoEntry() error {
	return apierr.Reason(errorv1.Reason_REASON_UNAUTHENTICATED,
		"login and password do not belong together; check both and try again", nil)
}

// SignIn checks a password and begins a session. It returns the token, which is shown this once and never stored.
//
// UNAUTHENTICATED for any wrong pair; RESOURCE_EXHAUSTED, with metadata retry_after_seconds, after too many failures.
func (k *Keeper) SignIn(ctx context.Context, name, password, address string) (token string, s Session, err error) {
	name = normal(name)
	attempt, err := k.attempt(ctx, name, address)
	if err != nil {
		return "", Session{}, err
	}
	login, hash, err := k.credentials(ctx, name)
	if err != nil {
		return "", Session{}, err
	}
	right, err := k.hasher.matches(ctx, hash, password)
	if err != nil {
		return "", Session{}, fmt.Errorf("check password: %w", err)
	}
	if !right || !login.Active {
		return "", Session{}, errors.Join(errNoEntry(), k.refused(ctx, login.Name, attempt, address))
	}
	if k.hasher.outdated(hash) {
		if err := k.rehash(ctx, login.Name, hash, password); err != nil {
			return "", Session{}, err
		}
	}
	return k.open(ctx, login, attempt, address)
}

// credentials returns the zero login and an empty hash for a name nobody has.
func (k *Keeper) credentials(ctx context.Context, name string) (Login, string, error) {
	var l Login
	var names []string
	var hash string
	err := k.db.Pool().QueryRow(ctx, `SELECT login, roles, coalesce(member, ''), active, create_time, password_hash
		FROM login WHERE login = $1`, name).Scan(&l.Name, &names, &l.Member, &l.Active, &l.CreateTime, &hash)
	if errors.Is(err, pgx.ErrNoRows) {
		return Login{}, "", nil
	}
	if err != nil {
		return Login{}, "", fmt.Errorf("read login: %w", err)
	}
	l.Roles, err = rolesOf(names)
	return l, hash, err
}

// refused records a failure at a login that exists. What was typed at one that does not is kept nowhere, for people type
// their password into the wrong field; it still costs one write, or its absence could be timed.
func (k *Keeper) refused(ctx context.Context, name string, attempt int64, address string) error {
	if name != "" {
		return k.record(ctx, k.db.Pool(), event{login: name, kind: eventRefused, address: address})
	}
	_, err := k.db.Pool().Exec(ctx, `UPDATE sign_in_attempt SET succeeded = false WHERE attempt_id = $1`, attempt)
	return err
}

func (k *Keeper) rehash(ctx context.Context, name, old, password string) error {
	hash, err := k.hasher.make(ctx, password)
	if err != nil {
		return err
	}
	_, err = k.db.Pool().Exec(ctx, `UPDATE login SET password_hash = $2 WHERE login = $1 AND password_hash = $3`, name, hash, old)
	if err != nil {
		return fmt.Errorf("renew password hash: %w", err)
	}
	return nil
}

func (k *Keeper) open(ctx context.Context, l Login, attempt int64, address string) (string, Session, error) {
	token, err := newToken()
	if err != nil {
		return "", Session{}, err
	}
	now := k.clock.Now()
	s := Session{Login: l, ExpireTime: now.Add(k.policy.Most)}
	err = k.db.InTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		// The row lock makes a deactivation that ran meanwhile visible: it would otherwise miss this session.
		var active bool
		if err := tx.QueryRow(ctx, `SELECT active FROM login WHERE login = $1 FOR SHARE`, l.Name).Scan(&active); err != nil {
			return err
		}
		if !active {
			return errNoEntry()
		}
		if _, err := tx.Exec(ctx, `INSERT INTO session (token_hash, login, open_time, seen_time, expire_time)
			VALUES ($1, $2, $3, $3, $4)`, tokenHash(token), l.Name, now, s.ExpireTime); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `UPDATE sign_in_attempt SET succeeded = true WHERE attempt_id = $1`, attempt); err != nil {
			return err
		}
		return k.record(ctx, tx, event{login: l.Name, kind: eventSignedIn, actor: l.Actor().Login, address: address})
	})
	if err != nil {
		return "", Session{}, fmt.Errorf("open session: %w", err)
	}
	return token, s, nil
}
