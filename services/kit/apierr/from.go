package apierr

import (
	"context"
	"errors"
	"fmt"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
)

// reasoned is what a typed error of a domain package implements, so that it needs to know neither gRPC nor this
// package. Reason is a name of barrelhead.error.v1.Reason, with or without its prefix.
type reasoned interface {
	error
	Reason() string
	Metadata() map[string]string
}

// fielded is optionally implemented beside reasoned by an error about one field of the request.
type fielded interface{ Field() string }

// From turns any error into one that may leave the service. A refusal keeps its code, reason and message but loses the
// operations wrapped around it; a typed domain error gets the code of its reason; what the database or the network said
// becomes UNAVAILABLE, ABORTED or INTERNAL with a fixed text, the original kept as the cause for the log.
func From(err error) error {
	if err == nil {
		return nil
	}
	if refusal, ok := errors.AsType[*Error](err); ok {
		return refusal
	}
	if typed := collect(err); len(typed) > 0 {
		return fromReasoned(typed, err)
	}
	if ended := fromContext(err); ended != nil {
		return ended
	}
	if carried, ok := errors.AsType[interface {
		error
		GRPCStatus() *status.Status
	}](err); ok {
		return fromStatus(carried.GRPCStatus(), err)
	}
	if database := fromDatabase(err); database != nil {
		return database
	}
	return Internal(err)
}

// Internal hides cause behind the one text callers get for our own faults.
func Internal(cause error) error {
	return &Error{
		code: codes.Internal, reason: errorv1.Reason_REASON_INTERNAL, cause: cause,
		message: "something went wrong on our side; nothing was changed. Try again, and report the request id if it stays",
	}
}

// Unavailable hides cause behind a request to try again.
func Unavailable(cause error) error {
	return &Error{
		code: codes.Unavailable, reason: errorv1.Reason_REASON_UNAVAILABLE, cause: cause,
		message: "the service is not available just now; try again in a moment",
	}
}

// collect finds the typed errors in err: the outermost of each chain, and all members of a joined error.
func collect(err error) []reasoned {
	if typed, ok := err.(reasoned); ok { //nolint:errorlint // the walk below does the unwrapping
		return []reasoned{typed}
	}
	switch wrapper := err.(type) { //nolint:errorlint // this is the walk
	case interface{ Unwrap() error }:
		if inner := wrapper.Unwrap(); inner != nil {
			return collect(inner)
		}
	case interface{ Unwrap() []error }:
		var all []reasoned
		for _, inner := range wrapper.Unwrap() {
			all = append(all, collect(inner)...)
		}
		return all
	}
	return nil
}

func fromReasoned(typed []reasoned, cause error) error {
	first := typed[0]
	reason, known := parseReason(first.Reason())
	if !known {
		return Internal(fmt.Errorf("unknown reason %q: %w", first.Reason(), cause))
	}
	refusal := &Error{code: CodeOf(reason), reason: reason, message: first.Error(), metadata: first.Metadata(), cause: cause}
	if refusal.code == codes.Internal {
		return Internal(cause)
	}
	for _, t := range typed {
		if f, ok := t.(fielded); ok && f.Field() != "" {
			refusal.faults = append(refusal.faults, Fault{Field: f.Field(), Message: t.Error()})
		}
	}
	if len(refusal.faults) > 1 {
		refusal.message = faultsMessage(refusal.faults)
	}
	return refusal
}

func parseReason(name string) (errorv1.Reason, bool) {
	number, known := errorv1.Reason_value[name]
	if !known {
		number, known = errorv1.Reason_value[reasonPrefix+name]
	}
	return errorv1.Reason(number), known && number != 0
}

func fromContext(err error) error {
	switch {
	case errors.Is(err, context.Canceled):
		return &Error{
			code: codes.Canceled, reason: errorv1.Reason_REASON_UNAVAILABLE, cause: err,
			message: "the caller went away before the answer was ready",
		}
	case errors.Is(err, context.DeadlineExceeded):
		return Late(err)
	default:
		return nil
	}
}

// Late answers for a call that ran, or would run, out of time.
func Late(cause error) error {
	return &Error{
		code: codes.DeadlineExceeded, reason: errorv1.Reason_REASON_UNAVAILABLE, cause: cause,
		message: "the answer took too long; send the same request again to learn what became of it",
	}
}

// fromStatus passes a status made elsewhere (a handler's own, Unimplemented, a client call), but not the text of one
// that stands for a fault: it may quote anything.
func fromStatus(st *status.Status, cause error) error {
	switch st.Code() {
	case codes.OK, codes.Unknown, codes.Internal, codes.DataLoss:
		return Internal(cause)
	case codes.Unavailable:
		if len(st.Details()) == 0 {
			return Unavailable(cause)
		}
	default:
	}
	return st.Err()
}
