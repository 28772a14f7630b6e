package apierr

import (
	"strings"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/protoadapt"
	"google.golang.org/protobuf/types/known/durationpb"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
)

// retryAfter is how long a caller should wait before it repeats an aborted or unavailable call. Short, because the
// usual causes (a lost race, a restarting database) pass in well under a second.
const retryAfter = 500 * time.Millisecond

func (e *Error) details() []protoadapt.MessageV1 {
	details := []protoadapt.MessageV1{&errdetails.ErrorInfo{
		Reason: wireReason(e.reason), Domain: Domain, Metadata: e.metadata,
	}}
	switch e.code {
	case codes.InvalidArgument:
		if len(e.faults) == 0 {
			return details
		}
		return append(details, e.badRequest())
	case codes.NotFound, codes.AlreadyExists:
		return append(details, e.resourceInfo())
	case codes.FailedPrecondition:
		return append(details, e.preconditionFailure())
	case codes.Unavailable, codes.Aborted:
		return append(details, &errdetails.RetryInfo{RetryDelay: durationpb.New(retryAfter)})
	default:
		return details
	}
}

func (e *Error) badRequest() *errdetails.BadRequest {
	bad := &errdetails.BadRequest{}
	for _, f := range e.faults {
		bad.FieldViolations = append(bad.FieldViolations, &errdetails.BadRequest_FieldViolation{
			Field: f.Field, Description: f.Message, Reason: wireReason(e.reason),
		})
	}
	return bad
}

func (e *Error) resourceInfo() *errdetails.ResourceInfo {
	name := e.metadata["resource"]
	collection, _, _ := strings.Cut(name, "/")
	return &errdetails.ResourceInfo{ResourceType: collection, ResourceName: name, Description: e.message}
}

func (e *Error) preconditionFailure() *errdetails.PreconditionFailure {
	return &errdetails.PreconditionFailure{Violations: []*errdetails.PreconditionFailure_Violation{{
		Type: wireReason(e.reason), Subject: e.metadata["resource"], Description: e.message,
	}}}
}

func wireReason(r errorv1.Reason) string {
	return strings.TrimPrefix(r.String(), reasonPrefix)
}
