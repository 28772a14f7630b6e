package domain

import "time"

// Member is a beekeeper with a marketing agreement.
type Member struct {
	// Number is "M-0001" and is never given to another member.
	Number           string
	DisplayName      string
	AgreementVersion string
	// JoinDate is a date such as "2026-03-01".
	JoinDate   string
	Creator    string
	CreateTime time.Time
}

// Name is the resource name, "members/M-0001".
func (m Member) Name() string { return "members/" + m.Number }

// Validate refuses a date that is none.
func (m Member) Validate() error {
	if !isDate(m.JoinDate) {
		return invalid("join_date", "%q is not a date such as 2026-03-01", m.JoinDate)
	}
	return nil
}
