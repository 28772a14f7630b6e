package pg

import (
	"context"
	"errors"
	"net"
	"strings"

	"github.com/jackc/pgx/v5/pgconn"
)

// SQLSTATE codes of https://www.postgresql.org/docs/15/errcodes-appendix.html this suite acts on.
const (
	serializationFailure = "40001"
	deadlockDetected     = "40P01"
	lockNotAvailable     = "55P03"
	undefinedTable       = "42P01"
	uniqueViolation      = "23505"
	duplicateObject      = "42710"
	duplicateSchema      = "42P06"
	internalError        = "XX000"
	invalidPassword      = "28P01"
	invalidAuthorization = "28000"
	invalidCatalogName   = "3D000"
)

// Code is the SQLSTATE of err, or "" if the database did not send one.
func Code(err error) string {
	var e *pgconn.PgError
	if errors.As(err, &e) {
		return e.Code
	}
	return ""
}

// Constraint is the name of the violated constraint, or "".
func Constraint(err error) string {
	var e *pgconn.PgError
	if errors.As(err, &e) {
		return e.ConstraintName
	}
	return ""
}

// Named returns the caller's own error for the violated constraint, keyed by its name, else err unchanged.
func Named(err error, names map[string]error) error {
	if named, ok := names[Constraint(err)]; ok {
		return named
	}
	return err
}

// IsConflict reports that concurrent changes made the database refuse: the whole transaction may be run again.
func IsConflict(err error) bool {
	switch Code(err) {
	case serializationFailure, deadlockDetected:
		return true
	}
	return false
}

// IsLockTimeout reports that a lock was not given within the role's lock_timeout.
func IsLockTimeout(err error) bool { return Code(err) == lockNotAvailable }

// IsUnavailable reports that the database is away, starting or stopping, or short of resources: nothing is wrong with
// the request, and it may be tried again. The outcome of a transaction that was committing is unknown.
func IsUnavailable(err error) bool {
	if code := Code(err); code != "" {
		// Class 08 connection exception, 53 insufficient resources, 57P operator intervention (shutdown, starting up),
		// 58 system error.
		return strings.HasPrefix(code, "08") || strings.HasPrefix(code, "53") || strings.HasPrefix(code, "57P") || strings.HasPrefix(code, "58")
	}
	var connect *pgconn.ConnectError
	if errors.As(err, &connect) {
		return true
	}
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return false
	}
	var network net.Error
	return errors.As(err, &network) || pgconn.SafeToRetry(err) || isClosedConn(err)
}

// isClosedConn recognises what the driver reports when the server went away in the middle of an answer.
func isClosedConn(err error) bool {
	return err != nil && (strings.Contains(err.Error(), "unexpected EOF") || strings.Contains(err.Error(), "conn closed"))
}

// IsTransient reports a failure that says nothing about the data: trying again later may well succeed.
func IsTransient(err error) bool {
	return IsConflict(err) || IsUnavailable(err) || IsLockTimeout(err) || Code(err) == "57014" ||
		errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded)
}

// isRefusal is an answer waiting does not change: wrong password, no such role or database.
func isRefusal(err error) bool {
	switch Code(err) {
	case invalidPassword, invalidAuthorization, invalidCatalogName:
		return true
	}
	return false
}
