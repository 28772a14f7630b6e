package pool

import (
	"encoding/json"
	"fmt"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// Check compares every total with what it is made of: lines = members, members = what goes to members, that and the residual
// = what there is to distribute, value − credited = due − receivable. Errors: *domain.TotalError.
func (r *Result) Check() error {
	var lines quantity.Money
	for _, l := range r.Lines {
		lines += l.Value
	}
	return r.check(lines, r.Members)
}

// check is Check with the lines summed already.
func (s *Summary) check(lines quantity.Money, of []MemberResult) error {
	var members, net quantity.Money
	for _, m := range of {
		members += m.Value
		net += m.Due - m.Receivable
	}
	for _, c := range []struct {
		what      string
		want, got quantity.Money
	}{
		{"the sum of all lines", s.ToMembers, lines},
		{"the sum of all members", s.ToMembers, members},
		{"members and residual together", s.Distributable, members + s.Residual},
		{"what is due less what is owed", s.ToMembers - s.Credited, net},
	} {
		if c.want != c.got {
			return &domain.TotalError{What: c.what, Want: c.want, Got: c.got}
		}
	}
	return nil
}

// Bytes are the outcome as it is stored.
func (s *Summary) Bytes() ([]byte, error) { return stored("outcome", s) }

// Bytes are the head as it is stored.
func (h Head) Bytes() ([]byte, error) { return stored("inputs", h) }

func stored(what string, v any) ([]byte, error) {
	raw, err := json.Marshal(v)
	if err != nil {
		return nil, fmt.Errorf("write the %s: %w", what, err)
	}
	return raw, nil
}

// ReadHead reads stored inputs.
func ReadHead(raw []byte) (h Head, err error) {
	if err := json.Unmarshal(raw, &h); err != nil {
		return h, fmt.Errorf("read stored inputs: %w", err)
	}
	return h, nil
}

// ReadSummary reads a stored outcome.
func ReadSummary(raw []byte) (*Summary, error) {
	s := &Summary{}
	if err := json.Unmarshal(raw, s); err != nil {
		return nil, fmt.Errorf("read a stored outcome: %w", err)
	}
	return s, nil
}
