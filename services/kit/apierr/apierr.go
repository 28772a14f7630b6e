// Package apierr is the one place that knows how a refusal looks to a caller: canonical code, one ErrorInfo with a
// reason of barrelhead.error.v1, the standard details of that code, and a message for people.
package apierr

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
)

// Domain is ErrorInfo.domain of every refusal of this suite.
const Domain = "barrelhead.example"

const reasonPrefix = "REASON_"

// Fault is one malformed field of a request. Field is the path in the request, e.g. "gross.value" or "lines[2].price".
type Fault struct {
	Field   string
	Message string
}

// Error is a refusal. Its text is public; the cause is for the service's own log and never leaves it.
type Error struct {
	code     codes.Code
	reason   errorv1.Reason
	message  string
	metadata map[string]string
	faults   []Fault
	cause    error
}

// New makes a refusal with an explicit code. Prefer the helpers below, which take the code from the reason.
func New(code codes.Code, reason errorv1.Reason, msg string, metadata map[string]string) error {
	return &Error{code: code, reason: reason, message: msg, metadata: maps.Clone(metadata)}
}

// Reason makes a refusal with the reason's own code. metadata repeats the variable parts of msg.
func Reason(reason errorv1.Reason, msg string, metadata map[string]string) error {
	return New(CodeOf(reason), reason, msg, metadata)
}

// NotFound answers for a resource that does not exist, and for one the caller may not know of.
func NotFound(resource string) error {
	return Reason(errorv1.Reason_REASON_NOT_FOUND, fmt.Sprintf("%s does not exist", resource),
		map[string]string{"resource": resource})
}

// AlreadyExists answers for a resource whose identity is taken.
func AlreadyExists(resource, msg string) error {
	return Reason(errorv1.Reason_REASON_ALREADY_EXISTS, msg, map[string]string{"resource": resource})
}

// State answers when the state of a resource forbids the action.
func State(resource, state, msg string) error {
	return Reason(errorv1.Reason_REASON_STATE_FORBIDS, msg, map[string]string{"resource": resource, "state": state})
}

// ETag answers when the resource changed since the caller read it; current is its etag now.
func ETag(resource, current string) error {
	return Reason(errorv1.Reason_REASON_ETAG_MISMATCH,
		fmt.Sprintf("%s was changed by someone else; read it again and repeat the change", resource),
		map[string]string{"resource": resource, "etag": current})
}

// SamePerson answers when first ("users/dock1") did the step this one must check.
func SamePerson(first, msg string) error {
	return Reason(errorv1.Reason_REASON_SAME_PERSON, msg, map[string]string{"first": first})
}

// OutOfRange answers for a value that cannot be measured or recorded. low and high are the limits as text.
func OutOfRange(field, low, high, msg string) error {
	return &Error{
		code: CodeOf(errorv1.Reason_REASON_OUT_OF_RANGE), reason: errorv1.Reason_REASON_OUT_OF_RANGE, message: msg,
		metadata: map[string]string{"field": field, "low": low, "high": high},
		faults:   []Fault{{Field: field, Message: msg}},
	}
}

// ReasonRequired answers for an implausible value that was sent without a reason. meta may add "low" and "high".
func ReasonRequired(field, msg string, meta map[string]string) error {
	metadata := map[string]string{"field": field}
	maps.Copy(metadata, meta)
	return &Error{
		code: CodeOf(errorv1.Reason_REASON_REASON_REQUIRED), reason: errorv1.Reason_REASON_REASON_REQUIRED, message: msg,
		metadata: metadata, faults: []Fault{{Field: field, Message: msg}},
	}
}

// Field answers for one malformed field.
func Field(field, msg string) error {
	return Fields(Fault{Field: field, Message: msg})
}

// Fields answers for malformed fields, all at once. Without a fault it returns nil, so a handler can collect and return.
func Fields(faults ...Fault) error {
	if len(faults) == 0 {
		return nil
	}
	return &Error{
		code: codes.InvalidArgument, reason: errorv1.Reason_REASON_FIELD_INVALID,
		message: faultsMessage(faults), metadata: fieldMetadata(faults), faults: slices.Clone(faults),
	}
}

// FieldMap is Fields of a map from field to message, in the order of the field names.
func FieldMap(faults map[string]string) error {
	var list []Fault
	for _, field := range slices.Sorted(maps.Keys(faults)) {
		list = append(list, Fault{Field: field, Message: faults[field]})
	}
	return Fields(list...)
}

func faultsMessage(faults []Fault) string {
	parts := make([]string, 0, len(faults))
	for _, f := range faults {
		parts = append(parts, strings.TrimSpace(f.Field+" "+f.Message))
	}
	return strings.Join(parts, "; ")
}

func fieldMetadata(faults []Fault) map[string]string {
	fields := make([]string, 0, len(faults))
	for _, f := range faults {
		if f.Field != "" && !slices.Contains(fields, f.Field) {
			fields = append(fields, f.Field)
		}
	}
	return map[string]string{"field": strings.Join(fields, ",")}
}

// Because returns err with a cause for the log. Anything but a refusal of this package comes back unchanged.
func Because(err, cause error) error {
	refusal, ok := err.(*Error) //nolint:errorlint // only the refusal itself can carry the cause, not one it wraps
	if !ok {
		return err
	}
	copied := *refusal
	copied.cause = cause
	return &copied
}

// Error is the public message.
func (e *Error) Error() string { return e.message }

// Unwrap is the private cause, if any.
func (e *Error) Unwrap() error { return e.cause }

// Code is the canonical code.
func (e *Error) Code() codes.Code { return e.code }

// GRPCStatus is what travels.
func (e *Error) GRPCStatus() *status.Status {
	st := status.New(e.code, e.message)
	detailed, err := st.WithDetails(e.details()...)
	if err != nil {
		// Only an OK status cannot carry details, and no refusal has code OK.
		return st
	}
	return detailed
}
