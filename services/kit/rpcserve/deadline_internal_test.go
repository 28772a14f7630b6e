package rpcserve

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"

	"barrelhead.example/services/kit/apierr"
)

// endOf is when the handler of a call with ctx has to be done.
func endOf(ctx context.Context, c *chain) (time.Time, error) {
	var end time.Time
	_, err := c.deadlineUnary(ctx, nil, &grpc.UnaryServerInfo{}, func(ctx context.Context, _ any) (any, error) {
		end, _ = ctx.Deadline()
		return struct{}{}, nil
	})
	return end, err
}

func TestDeadline_LeavesTimeToReport(t *testing.T) {
	t.Parallel()
	callers := time.Now().Add(5 * time.Second)
	ctx, cancel := context.WithDeadline(context.Background(), callers)
	defer cancel()
	end, err := endOf(ctx, &chain{deadline: time.Hour})
	require.NoError(t, err)
	require.Equal(t, headroom, callers.Sub(end))
}

func TestDeadline_IsGivenToACallWithoutOne(t *testing.T) {
	t.Parallel()
	end, err := endOf(context.Background(), &chain{deadline: time.Hour})
	require.NoError(t, err)
	require.WithinDuration(t, time.Now().Add(time.Hour), end, time.Minute)
}

func TestDeadline_RefusesWhatCannotBeDoneInTime(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithTimeout(context.Background(), leastTime-time.Millisecond)
	defer cancel()
	end, err := endOf(ctx, &chain{deadline: time.Hour})
	require.Zero(t, end, "the handler was not called")
	require.Equal(t, codes.DeadlineExceeded, apierr.Parse(err).Code)
}

func TestOptions_Defaults(t *testing.T) {
	t.Parallel()
	o := Options{StopWithin: time.Second}.withDefaults()
	require.Equal(t, 30*time.Second, o.Deadline)
	require.Equal(t, time.Second, o.StopWithin)
	require.Equal(t, 15*time.Second, Options{}.withDefaults().StopWithin)
}

func TestFormOf_KnowsThePatternsOfOurContracts(t *testing.T) {
	t.Parallel()
	for pattern, words := range map[string]string{
		`^-?[0-9]{1,12}([.][0-9]{1,3})?$`:   "a decimal number with at most 12 digits before and 3 after the point",
		`^[0-9]{1,3}([.][0-9]{1,2})?$`:      "a decimal number without a sign with at most 3 digits before and 2 after the point",
		`^(-?[0-9]{1,3}([.][0-9]{1,2})?)?$`: "a decimal number with at most 3 digits before and 2 after the point",
		`^([0-9]{4}-[0-9]{2}-[0-9]{2})?$`:   "a date such as 2026-09-14",
		`^[A-Z]{3}$`:                        "a currency code such as USD",
		`^M-[0-9]{4,6}$`:                    "a member number such as M-0007",
		`^[A-Z0-9-]{2,32}$`:                 "2 to 32 capital letters, digits and dashes",
		`^([0-9]{8}|[0-9]{12,14})?$`:        "a trade item number of 8 or 12 to 14 digits",
		`^heatStays/[A-Z0-9-]{1,40}$`:       "heatStays/ and 1 to 40 capital letters, digits and dashes",
		`^[a-z][a-z ]{1,20}$`:               "of the form ^[a-z][a-z ]{1,20}$",
	} {
		require.Equal(t, words, formOf(pattern), pattern)
	}
}

func TestQuoted_IsCutToASentence(t *testing.T) {
	t.Parallel()
	require.Equal(t, `"short"`, quoted("short"))
	require.LessOrEqual(t, len([]rune(quoted(string(make([]rune, 500))))), 4*longest+10)
}
