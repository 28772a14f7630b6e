package payment

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// Item is one amount to one payee.
type Item struct {
	// ID is the zero UUID before the batch is released.
	ID          uuid.UUID      `json:"id,omitzero"`
	Batch       uuid.UUID      `json:"-"`
	Member      string         `json:"member"`
	Payee       string         `json:"payee"`
	To          string         `json:"to"`
	Account     uuid.UUID      `json:"account"`
	Ending      string         `json:"ending"`
	Amount      quantity.Money `json:"amount"`
	Explanation string         `json:"explanation"`
	// Returns is the payment this one takes back; the zero UUID otherwise.
	Returns uuid.UUID `json:"-"`
	// Time and Date are when it was made.
	Time time.Time   `json:"-"`
	Date domain.Date `json:"-"`
	// Trace is its place in the batch, from 1.
	Trace int `json:"-"`
}

// Name is "payments/{uuid}", or empty before it was made.
func (i *Item) Name() string {
	if i.ID == (uuid.UUID{}) {
		return ""
	}
	return "payments/" + i.ID.String()
}

// Blocked is a balance that is not paid, and why.
type Blocked struct {
	Member string         `json:"member"`
	Amount quantity.Money `json:"amount"`
	Reason string         `json:"reason"`
}

// List is what a batch pays and does not pay.
type List struct {
	Items   []Item    `json:"items"`
	Blocked []Blocked `json:"blocked"`
	// Deductions are left out where there are none: lists from before there were loans keep their bytes.
	Deductions []Deduction `json:"deductions,omitempty"`
}

// Total is the sum of the payments. What goes to loans is none.
func (l *List) Total() quantity.Money {
	var sum quantity.Money
	for _, i := range l.Items {
		sum += i.Amount
	}
	return sum
}

// Bytes are the list as it is stored and fingerprinted.
func (l *List) Bytes() ([]byte, error) {
	raw, err := json.Marshal(l)
	if err != nil {
		return nil, fmt.Errorf("write the payments: %w", err)
	}
	return raw, nil
}

// ReadList reads a stored list.
func ReadList(raw []byte) (*List, error) {
	l := &List{}
	if err := json.Unmarshal(raw, l); err != nil {
		return nil, fmt.Errorf("read stored payments: %w", err)
	}
	return l, nil
}

// Fingerprint is the SHA-256 of stored bytes, 64 hexadecimal digits.
func Fingerprint(raw []byte) string {
	sum := sha256.Sum256(raw)
	return hex.EncodeToString(sum[:])
}

// Batch is one stored list of payments.
type Batch struct {
	ID          uuid.UUID
	Place       int64
	Number      string
	PayDate     domain.Date
	Minimum     quantity.Money
	Fingerprint string
	Prepared    []byte
	Preparer    string
	PrepareTime time.Time
	// Outcome is nil before the release.
	Outcome     []byte
	Releaser    string
	ReleaseTime *time.Time
	Exported    bool
}

// Name is "paymentBatches/{uuid}".
func (b *Batch) Name() string { return "paymentBatches/" + b.ID.String() }

// List is what was made, or before the release what was prepared.
func (b *Batch) List() (*List, error) {
	if b.Outcome != nil {
		return ReadList(b.Outcome)
	}
	return ReadList(b.Prepared)
}

// MayRelease holds the rules of the release: by another person, of the very list that was looked at, once, and not of nothing.
func (b *Batch) MayRelease(treasurer, fingerprint string) error {
	switch {
	case b.Releaser != "":
		return b.forbids("RELEASED", fmt.Sprintf("batch %s is released; it pays once", b.Number))
	case treasurer == b.Preparer:
		return &domain.SamePersonError{First: b.Preparer, Message: "the person who prepared payments cannot release them"}
	case fingerprint != b.Fingerprint:
		return b.forbids("OTHER_FINGERPRINT", fmt.Sprintf("batch %s has the fingerprint %.8s… and not %.8s…; look at it again", b.Number, b.Fingerprint, fingerprint))
	}
	prepared, err := ReadList(b.Prepared)
	if err == nil && len(prepared.Items) == 0 && len(prepared.Deductions) == 0 {
		err = b.forbids("NOTHING_TO_PAY", fmt.Sprintf("batch %s pays nobody: there is nothing to release", b.Number))
	}
	return err
}

// MayExport holds the rules of the file: released, with something to pay, and never handed out before.
func (b *Batch) MayExport() error {
	switch {
	case b.Releaser == "":
		return b.forbids("PREPARED", fmt.Sprintf("batch %s is not released yet", b.Number))
	case b.Exported:
		return b.forbids("EXPORTED", fmt.Sprintf("the file of batch %s was handed out already; a second one could pay twice", b.Number))
	}
	made, err := b.List()
	if err == nil && len(made.Items) == 0 {
		err = b.forbids("NOTHING_TO_PAY", fmt.Sprintf("batch %s has no payment for the bank: there is no file to hand out", b.Number))
	}
	return err
}

func (b *Batch) forbids(state, message string) error {
	return &domain.StateError{Resource: b.Name(), State: state, Message: message}
}

// returnSpace makes the identity of a return: a payment comes back once.
var returnSpace = uuid.MustParse("0f3c9b7e-52d1-5c0a-b6f4-91d8a7e4c2b3")

// Return takes a payment back because the bank did not deliver it.
func (i Item) Return(reason string, at time.Time, on domain.Date) (Item, error) {
	if i.Amount < 0 {
		return i, &domain.StateError{Resource: i.Name(), State: "RETURN", Message: "this is itself a return"}
	}
	back := i
	back.ID, back.Returns, back.Amount = uuid.NewSHA1(returnSpace, i.ID[:]), i.ID, -i.Amount
	back.Explanation, back.Time, back.Date = "returned by the bank: "+reason, at, on
	return back, nil
}
