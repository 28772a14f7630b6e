package session

import (
	"context"
	"crypto/sha256"
	"fmt"
	"strconv"
	"time"

	"github.com/jackc/pgx/v5"
	"google.golang.org/grpc/codes"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	"barrelhead.example/services/kit/apierr"
)

// attempt counts a sign-in as failed before the password is looked at, and refuses it when there were too many. Counting
// first means that a hundred guesses sent at the same moment count as a hundred; success takes the mark away.
func (k *Keeper) attempt(ctx context.Context, name, address string) (id int64, err error) {
	key := sha256.Sum256([]byte(name))
	now := k.clock.Now()
	err = k.db.InTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `SELECT pg_advisory_xact_lock(k) FROM unnest(ARRAY[hashtextextended('login' || $1, 0), hashtextextended('address' || $2, 0)]) AS k ORDER BY k`,
			fmt.Sprintf("%x", key), address); err != nil {
			return err
		}
		full, oldest, err := k.failures(ctx, tx, key[:], address, now)
		if err != nil {
			return err
		}
		if full {
			return tooMany(oldest.Add(k.policy.Window).Sub(now))
		}
		return tx.QueryRow(ctx, `INSERT INTO sign_in_attempt (login_key, address, attempt_time) VALUES ($1, $2, $3)
			RETURNING attempt_id`, key[:], address, now).Scan(&id)
	})
	if err != nil {
		return 0, fmt.Errorf("count sign-in: %w", err)
	}
	return id, nil
}

// failures counts within the window: those of this login here since it last succeeded here, of this login anywhere, and
// of this address. oldest is the first failure that still counts.
func (k *Keeper) failures(ctx context.Context, tx pgx.Tx, key []byte, address string, now time.Time) (full bool, oldest time.Time, err error) {
	var pair, login, here int
	var first *time.Time
	err = tx.QueryRow(ctx, `
		SELECT count(*) FILTER (WHERE login_key = $1 AND address = $2 AND attempt_id > (
		         SELECT coalesce(max(attempt_id), 0) FROM sign_in_attempt
		         WHERE login_key = $1 AND address = $2 AND succeeded)),
		       count(*) FILTER (WHERE login_key = $1),
		       count(*) FILTER (WHERE address = $2),
		       min(attempt_time)
		FROM sign_in_attempt
		WHERE (login_key = $1 OR address = $2) AND NOT succeeded AND attempt_time > $3`,
		key, address, now.Add(-k.policy.Window)).Scan(&pair, &login, &here, &first)
	if err != nil || first == nil {
		return false, now, err
	}
	full = pair >= k.policy.PairFailures || login >= k.policy.LoginFailures || here >= k.policy.AddressFailures
	return full, *first, nil
}

func tooMany(wait time.Duration) error {
	wait = max(wait.Round(time.Second), time.Second)
	minutes := int((wait + time.Minute - 1) / time.Minute)
	return apierr.New(codes.ResourceExhausted, errorv1.Reason_REASON_UNAVAILABLE,
		fmt.Sprintf("too many failed sign-ins; try again in %d min, or ask whoever keeps the logins for a new password", minutes),
		map[string]string{"retry_after_seconds": strconv.Itoa(int(wait / time.Second))})
}
