package rpcserve

import (
	"context"

	"github.com/google/uuid"
	"google.golang.org/grpc"
	"google.golang.org/grpc/metadata"

	"barrelhead.example/services/kit/access"
)

// RequestIDKey is the metadata that carries the id of a call which has no request_id of its own; it is also returned in
// the header of every answer.
const RequestIDKey = "barrelhead-request-id"

const maxRequestID = 64

// call is what the outer interceptors learn from the inner ones: a context only travels inwards.
type call struct {
	method    string
	requestID string
	actor     access.Actor
	draining  <-chan struct{}
}

type callKey struct{}

func callFrom(ctx context.Context) *call {
	if c, ok := ctx.Value(callKey{}).(*call); ok {
		return c
	}
	return &call{}
}

// Draining is closed when the service is about to stop. A handler of a long stream selects on it and returns
// apierr.Unavailable, so that its client resumes elsewhere at once. Outside a call it never closes.
func Draining(ctx context.Context) <-chan struct{} { return callFrom(ctx).draining }

// RequestID is the id under which the call is logged: its own request_id when it has one.
func RequestID(ctx context.Context) string { return callFrom(ctx).requestID }

// requestIDOf prefers the idempotency key, since it is what a person can quote and what the ledger holds.
func requestIDOf(ctx context.Context, req any) string {
	if keyed, ok := req.(interface{ GetRequestId() string }); ok && printable(keyed.GetRequestId()) {
		return keyed.GetRequestId()
	}
	md, _ := metadata.FromIncomingContext(ctx)
	if given := md.Get(RequestIDKey); len(given) == 1 && printable(given[0]) {
		return given[0]
	}
	return uuid.NewString()
}

// printable keeps the log readable, whatever is sent.
func printable(id string) bool {
	for _, r := range id {
		if r <= ' ' || r > '~' {
			return false
		}
	}
	return id != "" && len(id) <= maxRequestID
}

// withContext is a stream whose handler sees another context.
type withContext struct {
	grpc.ServerStream
	ctx context.Context
}

func (s withContext) Context() context.Context { return s.ctx }
