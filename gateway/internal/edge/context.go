// Package edge is what every request passes before it reaches pages or REST: identity, limits, log and headers.
package edge

import (
	"context"
	"sync/atomic"
)

type callKey struct{}

// call is what is known of a request from its first moment.
type call struct {
	requestID string
	address   string
	// login is filled in by whoever finds out who is calling, so that the access line can name them.
	login atomic.Pointer[string]
}

func callOf(ctx context.Context) *call {
	if c, ok := ctx.Value(callKey{}).(*call); ok {
		return c
	}
	return &call{}
}

// RequestID is the id of the request, in its log lines, its answer and those of the services.
func RequestID(ctx context.Context) string { return callOf(ctx).requestID }

// Address is where the request came from, for throttling and the record of sign-ins.
func Address(ctx context.Context) string { return callOf(ctx).address }

func withCall(ctx context.Context, c *call) context.Context {
	return context.WithValue(ctx, callKey{}, c)
}

func noteLogin(ctx context.Context, login string) { callOf(ctx).login.Store(&login) }
