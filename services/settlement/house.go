package settlement

import (
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// House is what a cooperative decides about its office. The zero House is usable.
type House struct {
	// Holds says by code which holds of the warehouse keep an advance waiting, e.g. {"DOCUMENTS": true}. A code that is not
	// named keeps its default: all block but DOCUMENTS and CUSTOMER.
	Holds map[string]bool `json:"holds"`
	// KeepTares pays by the tare on the ticket though the emptied drum weighed otherwise by more than is let pass. Without it the
	// weight of the emptied drum counts, and the pay is corrected.
	KeepTares bool `json:"keep_tares"`
	// RefereeFee is what a lost appeal to the outside laboratory costs, and the paper that says so. Without it nothing is charged.
	RefereeFee RefereeFee `json:"referee_fee"`
	// Bank is the cooperative as its bank knows it, for payment files. Without it everything works but the files.
	Bank Bank `json:"bank"`
	// Contact is how members reach the office; statements say it. What is empty is not printed.
	Contact Contact `json:"contact"`
	// PoolPaymentsInBox3 reports what is paid for pooled honey without reference to earnings in box 3 of Form 1099-PATR. Whether it
	// belongs there is the decision of the cooperative's accountant.
	PoolPaymentsInBox3 bool `json:"pool_payments_in_box_3"`
}

// Check lists what is wrong with it.
func (h House) Check() []config.Fault {
	faults := h.Contact.check()
	if _, err := h.RefereeFee.policy(); err != nil {
		faults = append(faults, config.Fault{Path: "referee_fee", Message: err.Error()})
	}
	return faults
}

// Contact is three lines as they are printed.
type Contact struct {
	PostalAddress string `json:"postal_address"`
	Telephone     string `json:"telephone"`
	Email         string `json:"email"`
}

// longestContact is how many characters fit a line of a statement.
const longestContact = 90

func (c Contact) check() (faults []config.Fault) {
	for _, one := range []struct{ path, text string }{{"postal_address", c.PostalAddress}, {"telephone", c.Telephone}, {"email", c.Email}} {
		if utf8.RuneCountInString(one.text) > longestContact || strings.ContainsAny(one.text, "\r\n\t") {
			faults = append(faults, config.Fault{Path: "contact." + one.path, Message: fmt.Sprintf("must be one line of at most %d characters", longestContact)})
		}
	}
	if before, after, found := strings.Cut(c.Email, "@"); c.Email != "" && (!found || before == "" || after == "" || strings.Contains(c.Email, " ")) {
		faults = append(faults, config.Fault{Path: "contact.email", Message: fmt.Sprintf("is %q, which is no mail address", c.Email)})
	}
	return faults
}

// RefereeFee is an amount in the cooperative's currency, e.g. "85.00", with its authority.
type RefereeFee struct {
	Amount    string `json:"amount"`
	Authority string `json:"authority"`
}

func (f RefereeFee) policy() (domain.FeePolicy, error) {
	if f.Amount == "" {
		return domain.FeePolicy{}, nil
	}
	amount, err := quantity.ParseMoney(f.Amount)
	if err != nil {
		return domain.FeePolicy{}, fmt.Errorf("amount: %w", err)
	}
	if amount < 0 || f.Authority == "" {
		return domain.FeePolicy{}, errors.New("needs an amount of 0.00 or more and the authority it rests on")
	}
	return domain.FeePolicy{Amount: amount, Authority: f.Authority}, nil
}

// Bank is what a payment file says about who pays.
type Bank struct {
	// Name on the account paid from.
	Name string `json:"name"`
	// RoutingNumber and BankName of the cooperative's bank, and the CompanyID it gave, for ACH.
	RoutingNumber string `json:"routing_number"`
	BankName      string `json:"bank_name"`
	CompanyID     string `json:"company_id"`
	// IBAN of the account paid from and BIC of its bank, for credit transfers.
	IBAN string `json:"iban"`
	BIC  string `json:"bic"`
}
