package heat

import (
	"fmt"

	"github.com/google/uuid"
)

var unknown = uuid.MustParse("5b0d6c0e-93d4-4d0c-8a0e-6f2f5b7c1a21")

// HoldID is the hold a fill gets for a hole in a log. It follows from the fill, the probe and where the hole begins, so a hole
// that grows with the next readings is not held again.
func HoldID(place string, a Alarm) uuid.UUID {
	return uuid.NewSHA1(unknown, fmt.Appendf(nil, "%s|%s|%s|%s|%d", place, a.Stay, a.Probe, a.Kind, a.From.UnixMicro()))
}
