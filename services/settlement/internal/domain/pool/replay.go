package pool

import (
	"bytes"
	"errors"
	"fmt"
	"slices"

	"barrelhead.example/services/settlement/internal/domain"
)

// Replay calculates a stored run again from its stored inputs, barrel by barrel.
type Replay struct {
	run       *Run
	digest    *Digest
	reckoning *Reckoning
	// refused is why the stored inputs cannot be calculated.
	refused error
	line    string
}

// NewReplay begins with what is stored besides barrels and members. heaps are those of the stored barrels.
func NewReplay(run *Run, heaps []Heap) (*Replay, error) {
	head, err := ReadHead(run.Inputs)
	if err != nil {
		return nil, err
	}
	r := &Replay{run: run}
	if r.digest, err = NewDigest(head.Canonical()); err != nil {
		return nil, err
	}
	r.reckoning, r.refused = Reckon(head.Canonical(), heaps)
	return r, nil
}

// Add is the next barrel with what the run made of it.
func (r *Replay) Add(b *Barrel, parts []Kept) error {
	if err := r.digest.Add(b); err != nil {
		return err
	}
	if r.refused == nil {
		r.value(b, parts)
	}
	return nil
}

// value keeps the first line that differs. Changed records may be impossible to value; that is for the end to say, after
// the fingerprint.
func (r *Replay) value(b *Barrel, parts []Kept) {
	var lines []Line
	lines, r.refused = r.reckoning.Value(b)
	for i, l := range lines {
		if p := &parts[i]; r.line == "" && (p.Value != l.Value || p.Odd != l.Odd) {
			r.line = fmt.Sprintf("barrel %s: %s gets %v, and %v is stored", b.Barrel, l.Member, l.Value, p.Value)
		}
	}
}

// Finish gives the difference in plain words, or "" where fingerprint and outcome are those stored, byte for byte, and the
// fingerprint as it comes out now.
func (r *Replay) Finish(members []MemberResult) (finding, fingerprint string, err error) {
	fingerprint = r.digest.Sum()
	if fingerprint != r.run.Fingerprint {
		return fmt.Sprintf("the stored inputs have the fingerprint %s and not %s: they were changed", fingerprint, r.run.Fingerprint), fingerprint, nil
	}
	if r.refused != nil {
		return "", fingerprint, r.refused
	}
	const another = "the same inputs come to another outcome than the one stored"
	if r.line != "" {
		return another + ": " + r.line, fingerprint, nil
	}
	summary, of, err := r.reckoning.Finish()
	var total *domain.TotalError
	if errors.As(err, &total) {
		return another + ": " + total.Error(), fingerprint, nil
	}
	if err != nil {
		return "", fingerprint, err
	}
	same, err := r.sameOutcome(summary)
	if err != nil || !same || !slices.Equal(of, members) {
		return another, fingerprint, err
	}
	return "", fingerprint, nil
}

// sameOutcome writes what is stored once more, so that both were written by the same hand.
func (r *Replay) sameOutcome(s *Summary) (bool, error) {
	kept, err := ReadSummary(r.run.Outcome)
	if err != nil {
		return false, err
	}
	was, err := kept.Bytes()
	if err != nil {
		return false, err
	}
	is, err := s.Bytes()
	return bytes.Equal(was, is), err
}
