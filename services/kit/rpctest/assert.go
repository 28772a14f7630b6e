package rpctest

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	"barrelhead.example/services/kit/apierr"
)

// Refused asserts that a call was refused with code and reason, and that the refusal's metadata holds metadata (it may
// hold more). It returns the refusal for further looks.
func Refused(t testing.TB, err error, code codes.Code, reason errorv1.Reason, metadata map[string]string) apierr.Details {
	t.Helper()
	require.Error(t, err)
	got := apierr.Parse(err)
	require.Equal(t, code.String(), got.Code.String(), got.Message)
	require.Equal(t, reason.String(), "REASON_"+got.Reason, got.Message)
	for key, value := range metadata {
		require.Equal(t, value, got.Metadata[key], "metadata %s of: %s", key, got.Message)
	}
	if reason != errorv1.Reason_REASON_NOT_FOUND && reason != errorv1.Reason_REASON_REQUEST_ID_REUSED {
		require.NotRegexp(t, `[0-9a-f]{8}-[0-9a-f]{4}-`, got.Message, "what exists is called as people call it; its name is in the metadata")
	}
	return got
}

// RefusedAs is Refused with the code that belongs to the reason.
func RefusedAs(t testing.TB, err error, reason errorv1.Reason, metadata map[string]string) apierr.Details {
	t.Helper()
	return Refused(t, err, apierr.CodeOf(reason), reason, metadata)
}

// Faults asserts that a call was refused for exactly these fields, in any order.
func Faults(t testing.TB, err error, fields ...string) apierr.Details {
	t.Helper()
	require.Error(t, err)
	got := apierr.Parse(err)
	require.Equal(t, codes.InvalidArgument.String(), got.Code.String(), got.Message)
	var faulty []string
	for _, f := range got.Faults {
		faulty = append(faulty, f.Field)
	}
	slices.Sort(faulty)
	slices.Sort(fields)
	require.Equal(t, fields, faulty, got.Message)
	return got
}
