package payment

import (
	"fmt"
	"strings"
	"time"
	"unicode"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// Originator is the cooperative as its bank knows it.
type Originator struct {
	// Name as the bank has it.
	Name string
	// Routing number of its bank, for ACH.
	Routing string
	// BankName of its bank, for ACH.
	BankName string
	// CompanyID the bank gave it, up to ten characters, for ACH.
	CompanyID string
	// IBAN of the account paid from, for credit transfers.
	IBAN string
	// BIC of its bank, for credit transfers; empty where the bank does not ask for it.
	BIC string
}

// Transfer is a payment with its full account, which only the file ever holds.
type Transfer struct {
	Item
	Target *Account
}

// File is what goes into a bank's file.
type File struct {
	Number    string
	From      Originator
	Transfers []Transfer
	Made      time.Time
	PayDate   domain.Date
	Currency  string
}

// Total is the sum of the transfers. Errors: *domain.StateError where one is not positive: no file line is ever negative.
func (f File) Total() (quantity.Money, error) {
	var total quantity.Money
	if len(f.Transfers) == 0 {
		return 0, f.forbids("EMPTY", "the batch pays nobody; there is no file to make")
	}
	for _, t := range f.Transfers {
		if t.Amount <= 0 {
			return 0, f.forbids("NOT_POSITIVE", fmt.Sprintf("the payment to %s is %v", t.To, t.Amount))
		}
		total += t.Amount
	}
	return total, nil
}

func (f File) forbids(state, message string) error {
	return &domain.StateError{Resource: f.Number, State: state, Message: message}
}

// ascii keeps what both formats carry everywhere: capital letters, digits and a few marks.
func ascii(s string) string {
	return strings.Map(func(r rune) rune {
		r = unicode.ToUpper(r)
		if r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune(" .-&", r) {
			return r
		}
		return ' '
	}, s)
}
