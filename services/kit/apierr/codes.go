package apierr

import (
	"google.golang.org/grpc/codes"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
)

// codeOf gives each reason its one canonical code. A request that can never succeed as sent is INVALID_ARGUMENT; one
// that could after somebody acted is FAILED_PRECONDITION; one that could if simply sent again is ABORTED or
// UNAVAILABLE.
var codeOf = map[errorv1.Reason]codes.Code{
	errorv1.Reason_REASON_FIELD_INVALID:        codes.InvalidArgument,
	errorv1.Reason_REASON_NOT_FOUND:            codes.NotFound,
	errorv1.Reason_REASON_ALREADY_EXISTS:       codes.AlreadyExists,
	errorv1.Reason_REASON_ETAG_MISMATCH:        codes.Aborted,
	errorv1.Reason_REASON_REQUEST_ID_REUSED:    codes.InvalidArgument,
	errorv1.Reason_REASON_TRANSACTION_CONFLICT: codes.Aborted,
	errorv1.Reason_REASON_UNAUTHENTICATED:      codes.Unauthenticated,
	errorv1.Reason_REASON_NOT_ALLOWED:          codes.PermissionDenied,
	errorv1.Reason_REASON_SAME_PERSON:          codes.FailedPrecondition,
	errorv1.Reason_REASON_UNAVAILABLE:          codes.Unavailable,
	errorv1.Reason_REASON_INTERNAL:             codes.Internal,
	errorv1.Reason_REASON_FEED_COMPACTED:       codes.OutOfRange,
	errorv1.Reason_REASON_FEED_CURSOR_AHEAD:    codes.OutOfRange,
	errorv1.Reason_REASON_FEED_LOG_CHANGED:     codes.FailedPrecondition,
	errorv1.Reason_REASON_STATE_FORBIDS:        codes.FailedPrecondition,
	errorv1.Reason_REASON_REASON_REQUIRED:      codes.InvalidArgument,
	errorv1.Reason_REASON_OUT_OF_RANGE:         codes.InvalidArgument,
	errorv1.Reason_REASON_SCALE_CHECK_MISSING:  codes.FailedPrecondition,
	errorv1.Reason_REASON_DRUM_IN_USE:          codes.FailedPrecondition,
	errorv1.Reason_REASON_ON_HOLD:              codes.FailedPrecondition,
	errorv1.Reason_REASON_UNSTABLE_READING:     codes.InvalidArgument,
	errorv1.Reason_REASON_SCHEDULE_OVERLAP:     codes.FailedPrecondition,
	errorv1.Reason_REASON_DEADLINE_PASSED:      codes.FailedPrecondition,
	errorv1.Reason_REASON_TOTAL_DISAGREES:      codes.FailedPrecondition,
	errorv1.Reason_REASON_NOT_YET_KNOWN:        codes.FailedPrecondition,
}

// CodeOf returns the canonical code of a reason; INTERNAL for one it does not know.
func CodeOf(reason errorv1.Reason) codes.Code {
	if code, known := codeOf[reason]; known {
		return code
	}
	return codes.Internal
}
