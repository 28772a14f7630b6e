package apierr

import (
	"errors"
	"io"
	"net"

	"github.com/jackc/pgx/v5/pgconn"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
)

// Classes and codes of SQLSTATE by what a caller can do about them (PostgreSQL documentation, appendix A).
var (
	awayClasses = map[string]bool{"08": true, "53": true, "57": true, "58": true}
	lostRaces   = map[string]bool{"40001": true, "40P01": true, "55P03": true}
)

// queryCanceled belongs to class 57 but means a statement timeout: the database is there, the statement was slow.
const queryCanceled = "57014"

func fromDatabase(err error) error {
	if answered, ok := errors.AsType[*pgconn.PgError](err); ok {
		return fromSQLState(answered.Code, err)
	}
	if _, ok := errors.AsType[*pgconn.ConnectError](err); ok {
		return Unavailable(err)
	}
	if _, ok := errors.AsType[net.Error](err); ok || pgconn.SafeToRetry(err) || errors.Is(err, io.ErrUnexpectedEOF) {
		return Unavailable(err)
	}
	return nil
}

func fromSQLState(code string, err error) error {
	switch {
	case lostRaces[code]:
		return &Error{
			code: CodeOf(errorv1.Reason_REASON_TRANSACTION_CONFLICT), reason: errorv1.Reason_REASON_TRANSACTION_CONFLICT,
			message: "too many changes at once; nothing was changed, try again", cause: err,
		}
	case code == queryCanceled:
		return Late(err)
	case len(code) == 5 && awayClasses[code[:2]]:
		return Unavailable(err)
	default:
		return Internal(err)
	}
}
