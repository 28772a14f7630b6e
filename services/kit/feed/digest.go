package feed

import (
	"bytes"
	"cmp"
	"fmt"
	"slices"
)

// Digest stands for a log up to an event. Kept where whoever may change the database cannot reach, it shows later whether
// anything up to that event was changed or cut off.
type Digest struct {
	LogID    string
	Sequence int64
	Chain    []byte
}

// begin puts the kept digests in order and leaves out those of events that were compacted away. Errors: *BrokenChainError for
// the digest of another log: this one has taken its place.
func (v *verifier) begin(oldest int64) error {
	v.kept = slices.DeleteFunc(slices.Clone(v.kept), func(d Digest) bool { return d.LogID == v.log && d.Sequence < oldest })
	slices.SortFunc(v.kept, func(a, b Digest) int { return cmp.Compare(a.Sequence, b.Sequence) })
	for _, d := range v.kept {
		if d.LogID != v.log {
			return &BrokenChainError{1, fmt.Sprintf("begins another log: a kept digest is of log %s, and this is %s", d.LogID, v.log)}
		}
	}
	return nil
}

// compareKept compares the chain at this event with the digests kept of it.
func (v *verifier) compareKept() error {
	for len(v.kept) > 0 && v.kept[0].Sequence == v.last {
		if !bytes.Equal(v.kept[0].Chain, v.chain) {
			return &BrokenChainError{v.good + 1, fmt.Sprintf("or a later one up to %d is not what was recorded: the chain was made anew, and a kept digest of event %d does not fit it", v.last, v.last)}
		}
		v.good, v.kept = v.last, v.kept[1:]
	}
	return nil
}
