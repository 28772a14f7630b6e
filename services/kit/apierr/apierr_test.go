package apierr_test

import (
	"context"
	"errors"
	"fmt"
	"net"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	"barrelhead.example/services/kit/apierr"
)

// tooWet stands for a typed error of a domain package.
type tooWet struct{ field, limit string }

func (e tooWet) Error() string               { return "moisture is above " + e.limit + " percent; measure again" }
func (e tooWet) Reason() string              { return "OUT_OF_RANGE" }
func (e tooWet) Metadata() map[string]string { return map[string]string{"high": e.limit} }
func (e tooWet) Field() string               { return e.field }

type odd struct{ error }

func (odd) Reason() string              { return "WEATHER" }
func (odd) Metadata() map[string]string { return nil }

func TestEveryReasonHasItsCode(t *testing.T) {
	t.Parallel()
	for number := range errorv1.Reason_name {
		reason := errorv1.Reason(number)
		if reason == errorv1.Reason_REASON_UNSPECIFIED || reason == errorv1.Reason_REASON_INTERNAL {
			continue
		}
		require.NotEqual(t, codes.Internal, apierr.CodeOf(reason), reason.String())
	}
}

func TestHelpers(t *testing.T) {
	t.Parallel()
	cases := map[string]struct {
		err      error
		code     codes.Code
		reason   string
		metadata map[string]string
	}{
		"not found": {apierr.NotFound("payouts/7"), codes.NotFound, "NOT_FOUND", map[string]string{"resource": "payouts/7"}},
		"exists": {
			apierr.AlreadyExists("members/M-0007", "number taken"), codes.AlreadyExists, "ALREADY_EXISTS",
			map[string]string{"resource": "members/M-0007"},
		},
		"state": {
			apierr.State("tickets/1", "CLOSED", "the ticket is closed"), codes.FailedPrecondition, "STATE_FORBIDS",
			map[string]string{"resource": "tickets/1", "state": "CLOSED"},
		},
		"etag": {apierr.ETag("barrels/1", "3"), codes.Aborted, "ETAG_MISMATCH", map[string]string{"resource": "barrels/1", "etag": "3"}},
		"same person": {
			apierr.SamePerson("users/dock1", "another person must approve"), codes.FailedPrecondition, "SAME_PERSON",
			map[string]string{"first": "users/dock1"},
		},
		"range": {
			apierr.OutOfRange("moisture_percent", "12", "25", "27.4 is above 25"), codes.InvalidArgument, "OUT_OF_RANGE",
			map[string]string{"field": "moisture_percent", "low": "12", "high": "25"},
		},
		"reason required": {
			apierr.ReasonRequired("net", "540 is unusual", map[string]string{"low": "560"}), codes.InvalidArgument,
			"REASON_REQUIRED",
			map[string]string{"field": "net", "low": "560"},
		},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			got := apierr.Parse(apierr.From(fmt.Errorf("some operation: %w", c.err)))
			require.Equal(t, c.code, got.Code)
			require.Equal(t, c.reason, got.Reason)
			require.Equal(t, c.metadata, got.Metadata)
			require.Equal(t, c.err.Error(), got.Message, "the wrapped operation is not for callers")
		})
	}
}

func TestFields_AllAtOnce(t *testing.T) {
	t.Parallel()
	got := apierr.Parse(apierr.Fields(
		apierr.Fault{Field: "gross.value", Message: "is missing"},
		apierr.Fault{Field: "tare.unit", Message: "must be LB"},
	))
	require.Equal(t, codes.InvalidArgument, got.Code)
	require.Equal(t, "FIELD_INVALID", got.Reason)
	require.Equal(t, []apierr.Fault{{"gross.value", "is missing"}, {"tare.unit", "must be LB"}}, got.Faults)
	require.Equal(t, "gross.value is missing; tare.unit must be LB", got.Message)
	require.Equal(t, map[string]string{"field": "gross.value,tare.unit"}, got.Metadata)

	require.NoError(t, apierr.Fields())
	require.NoError(t, apierr.FieldMap(nil))
	require.Equal(t, "a", apierr.Parse(apierr.FieldMap(map[string]string{"b": "2", "a": "1"})).Faults[0].Field)
}

func TestFrom_TypedDomainError(t *testing.T) {
	t.Parallel()
	got := apierr.Parse(apierr.From(fmt.Errorf("record reading: %w", tooWet{"moisture_percent", "25"})))
	require.Equal(t, codes.InvalidArgument, got.Code)
	require.Equal(t, "OUT_OF_RANGE", got.Reason)
	require.Equal(t, map[string]string{"high": "25"}, got.Metadata)
	require.Equal(t, []apierr.Fault{{"moisture_percent", "moisture is above 25 percent; measure again"}}, got.Faults)
}

func TestFrom_JoinedDomainErrorsListEveryField(t *testing.T) {
	t.Parallel()
	got := apierr.Parse(apierr.From(fmt.Errorf("decide: %w", errors.Join(tooWet{"a", "1"}, tooWet{"b", "2"}))))
	require.Len(t, got.Faults, 2)
	require.Equal(t, "b", got.Faults[1].Field)
	require.Contains(t, got.Message, "above 2 percent")
}

func TestFrom_UnknownReasonIsOurFault(t *testing.T) {
	t.Parallel()
	require.Equal(t, codes.Internal, apierr.Parse(apierr.From(odd{errors.New("rain")})).Code)
}

func TestFrom_WhatOthersSayStaysInside(t *testing.T) {
	t.Parallel()
	cases := map[string]struct {
		err    error
		code   codes.Code
		reason string
	}{
		"unknown error":        {errors.New("secret table"), codes.Internal, "INTERNAL"},
		"constraint":           {&pgconn.PgError{Code: "23505", Message: "secret key"}, codes.Internal, "INTERNAL"},
		"serialization":        {&pgconn.PgError{Code: "40001", Message: "secret"}, codes.Aborted, "TRANSACTION_CONFLICT"},
		"lock timeout":         {&pgconn.PgError{Code: "55P03", Message: "secret"}, codes.Aborted, "TRANSACTION_CONFLICT"},
		"statement timeout":    {&pgconn.PgError{Code: "57014", Message: "secret"}, codes.DeadlineExceeded, "UNAVAILABLE"},
		"shutting down":        {&pgconn.PgError{Code: "57P01", Message: "secret"}, codes.Unavailable, "UNAVAILABLE"},
		"too many connections": {&pgconn.PgError{Code: "53300", Message: "secret"}, codes.Unavailable, "UNAVAILABLE"},
		"network":              {&net.OpError{Op: "read", Err: errors.New("secret host")}, codes.Unavailable, "UNAVAILABLE"},
		"deadline":             {context.DeadlineExceeded, codes.DeadlineExceeded, "UNAVAILABLE"},
		"canceled":             {context.Canceled, codes.Canceled, "UNAVAILABLE"},
		"internal status":      {status.Error(codes.Internal, "secret"), codes.Internal, "INTERNAL"},
		"unknown status":       {status.Error(codes.Unknown, "secret"), codes.Internal, "INTERNAL"},
		"bare unavailable":     {status.Error(codes.Unavailable, "dial secret"), codes.Unavailable, "UNAVAILABLE"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			wrapped := fmt.Errorf("load delivery: %w", c.err)
			translated := apierr.From(wrapped)
			got := apierr.Parse(translated)
			require.Equal(t, c.code, got.Code)
			require.Equal(t, c.reason, got.Reason)
			require.NotContains(t, got.Message, "secret")
			require.ErrorIs(t, translated, wrapped, "the cause is kept for the log")
		})
	}
}

func TestFrom_PassesAStatusOfTheHandler(t *testing.T) {
	t.Parallel()
	got := apierr.Parse(apierr.From(status.Error(codes.Unimplemented, "method CloseTicket not implemented")))
	require.Equal(t, codes.Unimplemented, got.Code)
	require.NoError(t, apierr.From(nil))
}

func TestRetryInfo_OnlyWhereARepeatHelps(t *testing.T) {
	t.Parallel()
	require.Positive(t, apierr.Parse(apierr.Unavailable(nil)).RetryAfter)
	require.Positive(t, apierr.Parse(apierr.ETag("barrels/1", "3")).RetryAfter)
	require.Zero(t, apierr.Parse(apierr.NotFound("barrels/1")).RetryAfter)
}

func TestBecause(t *testing.T) {
	t.Parallel()
	cause := errors.New("checksum differs")
	err := apierr.Because(apierr.NotFound("barrels/1"), cause)
	require.ErrorIs(t, err, cause)
	require.Equal(t, codes.NotFound, apierr.Parse(err).Code)
	require.Equal(t, cause, apierr.Because(cause, errors.New("other")))
}
