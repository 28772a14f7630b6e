package domain_test

import (
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/quantity"
)

// A second weight is taken only after the scale was seen to move, or shows another one.
func TestWhatMayFollowACapturedWeight(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, time.September, 14, 12, 0, 0, 0, time.UTC)
	for name, c := range map[string]struct {
		last   *domain.Capture
		weight quantity.Mass
		moved  time.Time
		after  time.Duration
		state  string
		text   string
	}{
		"the first":                {nil, 684_500, time.Time{}, time.Minute, "", ""},
		"another weight":           {&domain.Capture{}, 684_000, time.Time{}, time.Minute, "", ""},
		"it moved since":           {&domain.Capture{}, 684_500, at.Add(time.Nanosecond), time.Minute, "", ""},
		"nothing on it":            {&domain.Capture{}, 0, time.Time{}, time.Minute, "", ""},
		"it moved before":          {&domain.Capture{}, 684_500, at, time.Minute, "NOT_MOVED", "weigh with that, or put the next barrel on"},
		"never seen to move":       {&domain.Capture{}, 684_500, time.Time{}, 5 * time.Minute, "NOT_MOVED", "weigh with that"},
		"too old to weigh with":    {&domain.Capture{}, 684_500, time.Time{}, 5*time.Minute + 1, "NOT_MOVED", "take the barrel off and put it on again"},
		"a barrel was weighed":     {&domain.Capture{Barrel: uuid.New(), DrumTag: "FC-00442"}, 684_500, at, time.Minute, "STUCK", "since drum FC-00442 was weighed"},
		"weighed, and moved since": {&domain.Capture{Barrel: uuid.New()}, 684_500, at.Add(1), time.Minute, "", ""},
	} {
		if c.last != nil {
			c.last.Scale, c.last.Weight, c.last.Time = "2", c.weight, at
			if name == "another weight" {
				c.last.Weight = 684_500
			}
		}
		err := domain.Capture{Scale: "2", Weight: c.weight, Time: at.Add(c.after)}.MayFollow(c.last, c.moved, domain.DefaultCaptureAge, lb)
		if c.state == "" {
			require.NoError(t, err, name)
			continue
		}
		got := refusal(t, err)
		require.Equal(t, c.state, got.Metadata["state"], name)
		require.Contains(t, got.Message, c.text, name)
	}
}
