package idem

import "fmt"

// IDError means that request_id is no UUID.
type IDError struct{ Given string }

func (e *IDError) Error() string {
	return fmt.Sprintf("request_id %q is not a UUID; make one for each new request", e.Given)
}

// Reason is the wire reason.
func (*IDError) Reason() string { return "FIELD_INVALID" }

// Metadata repeats the field.
func (*IDError) Metadata() map[string]string { return map[string]string{"field": "request_id"} }

// Field is where the fault is.
func (*IDError) Field() string { return "request_id" }

// ReusedError means that the request_id belongs to a request with another body, method or caller.
type ReusedError struct{ RequestID string }

func (e *ReusedError) Error() string {
	return fmt.Sprintf("request_id %s was used for a different request; make a new one", e.RequestID)
}

// Reason is the wire reason.
func (*ReusedError) Reason() string { return "REQUEST_ID_REUSED" }

// Metadata repeats the id.
func (e *ReusedError) Metadata() map[string]string {
	return map[string]string{"request_id": e.RequestID}
}
