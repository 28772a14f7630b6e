package sale

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
