package pool

import (
	"bytes"
	"encoding/json"
	"fmt"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// Check compares every total with what it is made of: lines = members, members = what goes to members, that and the residual
// = what there is to distribute, value − credited = due − receivable.
func (r *Result) Check() error {
	var lines, members, net quantity.Money
	for _, l := range r.Lines {
		lines += l.Value
	}
	for _, m := range r.Members {
		members += m.Value
		net += m.Due - m.Receivable
	}
	for _, c := range []struct {
		what      string
		want, got quantity.Money
	}{
		{"the sum of all lines", r.ToMembers, lines},
		{"the sum of all members", r.ToMembers, members},
		{"members and residual together", r.Distributable, members + r.Residual},
		{"what is due less what is owed", r.ToMembers - r.Credited, net},
	} {
		if c.want != c.got {
			return &domain.TotalError{What: c.what, Want: c.want, Got: c.got}
		}
	}
	return nil
}

// Bytes are the outcome as it is stored.
func (r *Result) Bytes() ([]byte, error) {
	raw, err := json.Marshal(r)
	if err != nil {
		return nil, fmt.Errorf("write the outcome: %w", err)
	}
	return raw, nil
}

// ReadInput reads stored inputs.
func ReadInput(raw []byte) (in Input, err error) {
	if err := json.Unmarshal(raw, &in); err != nil {
		return in, fmt.Errorf("read stored inputs: %w", err)
	}
	return in, nil
}

// ReadResult reads a stored outcome.
func ReadResult(raw []byte) (*Result, error) {
	r := &Result{}
	if err := json.Unmarshal(raw, r); err != nil {
		return nil, fmt.Errorf("read a stored outcome: %w", err)
	}
	return r, nil
}

// Replay calculates stored inputs again. It gives the difference in plain words, or "" where fingerprint and outcome are
// those stored, byte for byte.
func Replay(inputs, outcome []byte, fingerprint string) (finding string, err error) {
	if again := Fingerprint(inputs); again != fingerprint {
		return fmt.Sprintf("the stored inputs have the fingerprint %s and not %s: they were changed", again, fingerprint), nil
	}
	in, err := ReadInput(inputs)
	if err != nil {
		return "", err
	}
	r, err := Close(in)
	if err != nil {
		return "", err
	}
	raw, err := r.Bytes()
	if err != nil {
		return "", err
	}
	if !bytes.Equal(raw, outcome) {
		return "the same inputs come to another outcome than the one stored", nil
	}
	return "", nil
}
