package session

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/pg"
)

// touchEvery is how exact the time of last use is kept: a write with every page would cost more than it tells.
const touchEvery = time.Minute

// Identify returns whose token this is. UNAUTHENTICATED when it is unknown, ended, expired, unused for too long, or its
// login was deactivated. A change of roles counts at once in this gateway and within a second in every other.
func (k *Keeper) Identify(ctx context.Context, token string) (Session, error) {
	now, hash := k.clock.Now(), tokenHash(token)
	if s, ok := k.recent.find(hash, now); ok {
		return s, nil
	}
	s, err := k.readSession(ctx, hash, now)
	if err == nil {
		k.recent.keep(hash, s, now)
	}
	return s, err
}

func (k *Keeper) readSession(ctx context.Context, hash []byte, now time.Time) (Session, error) {
	var s Session
	var names []string
	var seen time.Time
	err := k.db.Pool().QueryRow(ctx, `
		SELECT l.login, l.roles, coalesce(l.member, ''), l.active, l.create_time, s.expire_time, s.seen_time
		FROM session s JOIN login l ON l.login = s.login
		WHERE s.token_hash = $1 AND s.end_time IS NULL AND l.active AND s.expire_time > $2 AND s.seen_time > $3`,
		hash, now, now.Add(-k.policy.Idle)).
		Scan(&s.Name, &names, &s.Member, &s.Active, &s.CreateTime, &s.ExpireTime, &seen)
	if errors.Is(err, pgx.ErrNoRows) {
		return Session{}, apierr.Reason(errorv1.Reason_REASON_UNAUTHENTICATED, "your sign-in has ended; sign in again", nil)
	}
	if err != nil {
		return Session{}, fmt.Errorf("read session: %w", err)
	}
	if s.Roles, err = rolesOf(names); err != nil {
		return Session{}, fmt.Errorf("read session: %w", err)
	}
	if now.Sub(seen) >= touchEvery {
		_, err = k.db.Pool().Exec(ctx, `UPDATE session SET seen_time = $2 WHERE token_hash = $1 AND seen_time < $2`, hash, now)
	}
	return s, err
}

// SignOut ends one session; one that has ended already stays ended.
func (k *Keeper) SignOut(ctx context.Context, token, address string) error {
	err := k.db.InTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var name string
		err := tx.QueryRow(ctx, `UPDATE session SET end_time = $2 WHERE token_hash = $1 AND end_time IS NULL RETURNING login`,
			tokenHash(token), k.clock.Now()).Scan(&name)
		if errors.Is(err, pgx.ErrNoRows) {
			return nil
		}
		if err != nil {
			return err
		}
		return k.record(ctx, tx, event{login: name, kind: eventSignedOut, actor: "users/" + name, address: address})
	})
	k.recent.forget()
	if err != nil {
		return fmt.Errorf("sign out: %w", err)
	}
	return nil
}

func (k *Keeper) endAll(ctx context.Context, q pg.Querier, name string) error {
	_, err := q.Exec(ctx, `UPDATE session SET end_time = $2 WHERE login = $1 AND end_time IS NULL`, name, k.clock.Now())
	return err
}

// ChangePassword lets a person set a new password by the current one. It counts as a sign-in attempt, so that a stolen
// session cannot be used to guess the password.
func (k *Keeper) ChangePassword(ctx context.Context, name, current, next, address string) error {
	if _, err := k.attempt(ctx, name, address); err != nil {
		return err
	}
	_, hash, err := k.credentials(ctx, name)
	if err != nil {
		return err
	}
	right, err := k.hasher.matches(ctx, hash, current)
	if err != nil {
		return fmt.Errorf("check password: %w", err)
	}
	if !right {
		return apierr.Field("current_password", "is not your password")
	}
	return k.SetPassword(ctx, "users/"+name, name, next)
}

// Sweep deletes sessions and attempts that ended long ago; login events stay.
func (k *Keeper) Sweep(ctx context.Context) error {
	now := k.clock.Now()
	if _, err := k.db.Pool().Exec(ctx, `DELETE FROM sign_in_attempt WHERE attempt_time < $1`, now.Add(-24*time.Hour)); err != nil {
		return fmt.Errorf("sweep sign-in attempts: %w", err)
	}
	if _, err := k.db.Pool().Exec(ctx, `DELETE FROM session WHERE expire_time < $1 OR end_time < $1`, now.Add(-24*time.Hour)); err != nil {
		return fmt.Errorf("sweep sessions: %w", err)
	}
	return nil
}
