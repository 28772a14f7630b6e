// Package payment decides who gets a member's money and writes the files a bank reads. Nothing is paid to an account that was
// not verified by a second person, to a member whose creditors are unclear, or twice.
package payment

import (
	"fmt"
	"regexp"
	"strings"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/checkdigit"
	"barrelhead.example/services/settlement/internal/domain"
)

// CoolOff is how many days a new account waits before money goes there: time for the payee to notice a change it never made.
const CoolOff = 10

// Account is where a payee's money goes: an ACH account by Routing and Number, or an international one by IBAN. Number and IBAN
// are known while it is entered and while a payment file is written; in between they are sealed.
type Account struct {
	ID      uuid.UUID
	Place   int64
	Payee   string
	Holder  string
	Routing string
	Number  string
	Savings bool
	IBAN    string
	// Tail is the last four of the sealed number.
	Tail string
	// KeyID names the key Sealed was made with.
	KeyID      string
	Sealed     []byte
	Enterer    string
	EnterTime  time.Time
	UsableFrom domain.Date
	// Verifier is empty before the call-back.
	Verifier     string
	Verification string
	VerifyTime   *time.Time
}

// Name is "payeeAccounts/{uuid}".
func (a *Account) Name() string { return "payeeAccounts/" + a.ID.String() }

// Ending is the last four of the account, which is all anybody needs to see.
func (a *Account) Ending() string {
	if number := a.secret(); number != "" {
		return number[max(0, len(number)-4):]
	}
	return a.Tail
}

// International reports whether it is an account by IBAN.
func (a *Account) International() bool { return a.Routing == "" }

func (a *Account) secret() string { return a.Number + a.IBAN }

// Keys seal and open account numbers.
type Keys interface {
	Seal(secret []byte, belongs string) (keyID string, sealed []byte, err error)
	Open(keyID string, sealed []byte, belongs string) ([]byte, error)
}

// Seal makes the number unreadable and forgets it. Errors: *domain.StateError where the cooperative has no key.
func (a *Account) Seal(keys Keys) (err error) {
	tail := a.Ending()
	if a.KeyID, a.Sealed, err = keys.Seal([]byte(a.secret()), a.Name()); err != nil {
		return &domain.StateError{Resource: a.Name(), State: "NO_KEY", Message: "account numbers cannot be kept: " + err.Error() + "; name a file in account_key_files"}
	}
	a.Tail, a.Number, a.IBAN = tail, "", ""
	return nil
}

// Unseal makes the number known again. One that was never sealed stays as it is.
func (a *Account) Unseal(keys Keys) error {
	if a.KeyID == "" {
		return nil
	}
	secret, err := keys.Open(a.KeyID, a.Sealed, a.Name())
	if err != nil {
		return fmt.Errorf("open the number of %s: %w", a.Name(), err)
	}
	if a.International() {
		a.IBAN = string(secret)
	} else {
		a.Number = string(secret)
	}
	return nil
}

var accountForm = regexp.MustCompile(`^[A-Za-z0-9]{1,17}$`)

// Validate lists everything wrong with a new account at once.
func (a *Account) Validate() []domain.FieldFault {
	var faults []domain.FieldFault
	add := func(path, format string, args ...any) {
		faults = append(faults, domain.FieldFault{Path: path, Message: fmt.Sprintf(format, args...)})
	}
	if n := len([]rune(strings.TrimSpace(a.Holder))); n < 1 || n > 70 {
		add("holder", "has %d characters; it needs 1 to 70", n)
	}
	switch {
	case a.IBAN != "" && (a.Routing != "" || a.Number != ""):
		add("iban", "is given beside routing_number or account_number; give one or the other")
	case a.IBAN != "":
		if err := checkdigit.ValidIBAN(a.IBAN); err != nil {
			add("iban", "is not valid: %v", err)
		}
	default:
		if err := checkdigit.ValidABA(a.Routing); err != nil {
			add("routing_number", "is not valid: %v", err)
		}
		if !accountForm.MatchString(a.Number) {
			add("account_number", "must be 1 to 17 letters and digits")
		}
	}
	return faults
}

// MayVerify wants another person than the one who entered it, and not the payee.
func (a *Account) MayVerify(login, member string) error {
	if a.Verifier != "" {
		return &domain.StateError{Resource: a.Name(), State: "VERIFIED", Message: "this account is verified already"}
	}
	if login == a.Enterer {
		return &domain.SamePersonError{First: a.Enterer, Message: "the person who entered an account cannot verify it"}
	}
	if member != "" && member == a.Payee {
		return &domain.StateError{Resource: a.Name(), State: "INTERESTED", Message: "this is your own account; another person must verify it"}
	}
	return nil
}

// unusable says why money may not go there on a date, or "".
func (a *Account) unusable(on domain.Date) string {
	switch {
	case a.Verifier == "":
		return fmt.Sprintf("waiting for the account ending in %s to be verified by calling back", a.Ending())
	case on < a.UsableFrom:
		return fmt.Sprintf("the bank details changed lately; money goes to the account ending in %s from %s on", a.Ending(), a.UsableFrom)
	}
	return ""
}
