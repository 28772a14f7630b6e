package sale

import "fmt"

// ContactError means that nobody could be called about a shipment, or that it says whom to call beside what is recorded.
type ContactError struct {
	// Known is the customer on record, "customers/{id}"; empty for none.
	Known, Customer string
}

// Error says what to do.
func (e *ContactError) Error() string {
	if e.Known != "" {
		return "is given, and " + e.Known + " is on record with whom to call: leave it out, or record the customer anew"
	}
	return "is missing: " + e.Customer + " is not on record, so say whom to call in a recall, by telephone or e-mail; or record the customer first"
}

// Reason is the wire reason.
func (e *ContactError) Reason() string { return "FIELD_INVALID" }

// Field is the field it is about.
func (e *ContactError) Field() string { return "recall_contact" }

// Metadata names the field.
func (e *ContactError) Metadata() map[string]string { return map[string]string{"field": e.Field()} }

// Calling decides whom to call about what leaves for a customer: c is the one on record, its id empty for none.
func Calling(c Customer, called, contact string) error {
	if (c.ID != "") != (contact != "") {
		return nil
	}
	e := &ContactError{Customer: called}
	if c.ID != "" {
		e.Known = c.Name()
	}
	return e
}

// Carrier is who takes a shipment away. Who releases food keeps name, address and telephone number of whoever transports it (21 CFR
// 1.345(a)(6)).
type Carrier struct{ Name, Address, Telephone string }

// Reached completes a carrier of which only the name is said by what the newest shipment with it says; last is empty for none.
func (c Carrier) Reached(last Carrier) (Carrier, error) {
	if c.Address == "" && c.Telephone == "" {
		c.Address, c.Telephone = last.Address, last.Telephone
	}
	if c.Address == "" || c.Telephone == "" {
		return c, &CarrierError{Carrier: c}
	}
	return c, nil
}

// CarrierError means that whoever takes a shipment away could not be reached.
type CarrierError struct{ Carrier Carrier }

// Error says what to give.
func (e *CarrierError) Error() string {
	return fmt.Sprintf("is missing: give address and telephone number of %s, both; a later shipment with that carrier need not repeat them", e.Carrier.Name)
}

// Reason is the wire reason.
func (*CarrierError) Reason() string { return "FIELD_INVALID" }

// Field is the field it is about.
func (e *CarrierError) Field() string {
	if e.Carrier.Address == "" {
		return "carrier_address"
	}
	return "carrier_telephone"
}

// Metadata names the field.
func (e *CarrierError) Metadata() map[string]string { return map[string]string{"field": e.Field()} }
