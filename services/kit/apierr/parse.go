package apierr

import (
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
)

// Details is a refusal as a caller reads it.
type Details struct {
	Code    codes.Code
	Message string
	// Reason is the wire name, e.g. "SAME_PERSON"; empty when the answer carried none.
	Reason   string
	Metadata map[string]string
	Faults   []Fault
	// RetryAfter is zero when the answer does not invite a repeat.
	RetryAfter time.Duration
}

// Parse reads the refusal out of the error of a client call, or of From. A nil error has code OK.
func Parse(err error) Details {
	st := status.Convert(err)
	d := Details{Code: st.Code(), Message: st.Message()}
	for _, detail := range st.Details() {
		switch v := detail.(type) {
		case *errdetails.ErrorInfo:
			d.Reason, d.Metadata = v.GetReason(), v.GetMetadata()
		case *errdetails.BadRequest:
			for _, f := range v.GetFieldViolations() {
				d.Faults = append(d.Faults, Fault{Field: f.GetField(), Message: f.GetDescription()})
			}
		case *errdetails.RetryInfo:
			d.RetryAfter = v.GetRetryDelay().AsDuration()
		}
	}
	return d
}
