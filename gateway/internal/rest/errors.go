package rest

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"strconv"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/genproto/googleapis/rpc/code"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"barrelhead.example/gateway/internal/edge"
	"barrelhead.example/services/kit/apierr"
)

// Refusal is the body of every answer that is not a success. Its members are always present, so a client needs one
// reader for all of them.
type Refusal struct {
	// Code is the canonical name, e.g. FAILED_PRECONDITION.
	Code string `json:"code"`
	// Reason is a name of barrelhead.error.v1.Reason without its prefix, e.g. SAME_PERSON.
	Reason string `json:"reason"`
	// Message is for people: what is wrong, with the number, and what to do.
	Message string `json:"message"`
	// Metadata repeats the variable parts of the message.
	Metadata map[string]string `json:"metadata"`
	// Fields lists every malformed field at once.
	Fields []FieldFault `json:"fields"`
	// RequestID finds the call in the logs.
	RequestID string `json:"request_id"`
}

// FieldFault is one malformed field; Field is its path in the request, e.g. "gross.value".
type FieldFault struct {
	Field   string `json:"field"`
	Message string `json:"message"`
}

// Explain reads a refusal out of an error of a service or of the gateway itself.
func Explain(ctx context.Context, err error) (Refusal, codes.Code) {
	st := status.Convert(apierr.From(err))
	return explain(st, edge.RequestID(ctx)), st.Code()
}

func explain(st *status.Status, requestID string) Refusal {
	answer := Refusal{
		Code: code.Code(st.Code()).String(), Message: st.Message(), RequestID: requestID, //nolint:gosec // codes are small
		Metadata: map[string]string{}, Fields: []FieldFault{},
	}
	for _, detail := range st.Details() {
		switch d := detail.(type) {
		case *errdetails.ErrorInfo:
			answer.Reason = d.GetReason()
			if d.GetMetadata() != nil {
				answer.Metadata = d.GetMetadata()
			}
		case *errdetails.BadRequest:
			for _, v := range d.GetFieldViolations() {
				answer.Fields = append(answer.Fields, FieldFault{Field: v.GetField(), Message: v.GetDescription()})
			}
		}
	}
	if answer.Reason == "" {
		answer.Reason = reasonless(st.Code())
	}
	return answer
}

// reasonless gives a reason to what a library refused before one of us could.
func reasonless(c codes.Code) string {
	switch c {
	case codes.InvalidArgument, codes.OutOfRange:
		return "FIELD_INVALID"
	case codes.NotFound:
		return "NOT_FOUND"
	case codes.Unauthenticated:
		return "UNAUTHENTICATED"
	case codes.PermissionDenied:
		return "NOT_ALLOWED"
	case codes.Unavailable, codes.DeadlineExceeded, codes.Canceled, codes.ResourceExhausted:
		return "UNAVAILABLE"
	default:
		return "INTERNAL"
	}
}

// writeError answers with the refusal in err.
func writeError(w http.ResponseWriter, r *http.Request, err error) {
	if tooLarge, ok := errors.AsType[*http.MaxBytesError](err); ok {
		writeRefusal(w, tooLargeRefusal(r, tooLarge.Limit), http.StatusRequestEntityTooLarge)
		return
	}
	answer, c := Explain(r.Context(), err)
	writeRefusal(w, answer, runtime.HTTPStatusFromCode(c))
}

func writeRefusal(w http.ResponseWriter, answer Refusal, httpStatus int) {
	switch {
	case httpStatus == http.StatusUnauthorized:
		w.Header().Set("WWW-Authenticate", `Bearer realm="barrelhead"`)
	case answer.Metadata["retry_after_seconds"] != "":
		w.Header().Set("Retry-After", answer.Metadata["retry_after_seconds"])
	case httpStatus == http.StatusServiceUnavailable || answer.Code == "ABORTED":
		w.Header().Set("Retry-After", strconv.Itoa(1))
	}
	writeJSON(w, httpStatus, map[string]Refusal{"error": answer})
}

func writeJSON(w http.ResponseWriter, httpStatus int, body any) {
	text, err := json.Marshal(body)
	if err != nil {
		http.Error(w, `{"error":{"code":"INTERNAL"}}`, http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(httpStatus)
	_, _ = w.Write(append(text, '\n')) // the caller has gone away if this fails
}

// onError is the mapper's way of refusing: an answer of a service, or a body it could not read.
func onError(_ context.Context, _ *runtime.ServeMux, _ runtime.Marshaler, w http.ResponseWriter, r *http.Request, err error) {
	if st, ok := status.FromError(err); ok && st.Code() == codes.InvalidArgument && len(st.Details()) == 0 {
		err = unreadable(st.Message())
	}
	writeError(w, r, err)
}

func tooLargeRefusal(r *http.Request, limit int64) Refusal {
	return Refusal{
		Code: "INVALID_ARGUMENT", Reason: "FIELD_INVALID", RequestID: edge.RequestID(r.Context()),
		Message:  "the body is larger than " + strconv.FormatInt(limit, 10) + " bytes; send it in parts",
		Metadata: map[string]string{"limit_bytes": strconv.FormatInt(limit, 10)}, Fields: []FieldFault{},
	}
}

// onRouting answers for a path or method that is not mapped.
func onRouting(_ context.Context, _ *runtime.ServeMux, _ runtime.Marshaler, w http.ResponseWriter, r *http.Request, httpStatus int) {
	answer := Refusal{
		Code: "NOT_FOUND", Reason: "NOT_FOUND", Message: r.URL.Path + " does not exist; see /v1/openapi.json",
		Metadata: map[string]string{"resource": r.URL.Path}, Fields: []FieldFault{}, RequestID: edge.RequestID(r.Context()),
	}
	switch httpStatus {
	case http.StatusMethodNotAllowed:
		answer.Code, answer.Reason = "UNIMPLEMENTED", "FIELD_INVALID"
		answer.Message = r.Method + " is not possible at " + r.URL.Path + "; see /v1/openapi.json"
	case http.StatusBadRequest:
		answer.Code, answer.Reason, answer.Message = "INVALID_ARGUMENT", "FIELD_INVALID", "the path cannot be read; check its escapes"
	}
	writeRefusal(w, answer, httpStatus)
}
