package e2e

import (
	"context"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/encoding/prototext"
	"google.golang.org/protobuf/proto"

	"barrelhead.example/deploy/season"
)

// cutAfter is how many changes further the chapter gets each time before it is cut short.
const cutAfter = 9

// cut loses the answer to the last of some requests that change something: it was done, and whoever did it never heard.
type cut struct {
	under http.RoundTripper
	left  int
	stop  context.CancelFunc
}

func (c *cut) RoundTrip(r *http.Request) (*http.Response, error) {
	resp, err := c.under.RoundTrip(r)
	if r.Method == http.MethodPost && !strings.HasSuffix(r.URL.Path, ":planBlend") {
		if c.left--; c.left == 0 {
			c.stop()
		}
	}
	return resp, err
}

// packInPieces works the warehouse chapter until it comes to its end, each time from its beginning and a few steps further.
func packInPieces(t *testing.T, w *world) *season.Packed {
	t.Helper()
	under := w.client.HTTP.Transport
	t.Cleanup(func() { w.client.HTTP.Transport = under })
	for steps := cutAfter; ; steps += cutAfter {
		ctx, stop := context.WithCancel(t.Context())
		w.client.HTTP.Transport = &cut{under, steps, stop}
		p, err := w.crew.PackHoney(ctx)
		stop()
		if err == nil {
			w.client.HTTP.Transport = under
			require.Greater(t, steps, 3*cutAfter, "it was cut short")
			return p
		}
		require.ErrorIs(t, err, context.Canceled)
	}
}

// packedOnce works the chapter again: every figure is as it was, nothing is missing, and all of the lot is found.
func packedOnce(t *testing.T, w *world, first *season.Packed) {
	t.Helper()
	again, err := w.crew.PackHoney(t.Context())
	require.NoError(t, err)
	first.Trace.ElapsedMilliseconds, again.Trace.ElapsedMilliseconds = 0, 0
	require.Equal(t, inWords(first), inWords(again), "a chapter worked twice has no second effect")
	require.Equal(t, "0.0", again.House.GetDifference().GetValue())
	require.Equal(t, "0.0", again.House.GetUnexplained().GetValue())
	for _, b := range append(append(again.Runs, again.Tanks...), again.Month) {
		require.Equal(t, "0.0", b.GetUnexplained().GetValue(), b)
	}
	require.Equal(t, "100.0", again.Trace.GetAccountedPercent())
	require.Equal(t, "100.0", again.Drill.GetFoundPercent())
	require.True(t, again.Drill.GetRecounted())
	require.Len(t, again.Trace.GetCustomers(), 2)
	require.Greater(t, len(again.Trace.GetSources()), 2, "barrels of the heel are in it")
	require.Equal(t, "0.0", again.House.GetReturned().GetValue(), "what came back was decided about")
}

// inWords is everything a chapter read back, as text.
func inWords(p *season.Packed) []string {
	answers := []proto.Message{p.Trace, p.Drill, p.House, p.Month}
	for i := range p.Runs {
		answers = append(answers, p.Runs[i], p.Tanks[i])
	}
	var out []string
	for _, m := range answers {
		out = append(out, prototext.MarshalOptions{Multiline: true}.Format(m))
	}
	return out
}
