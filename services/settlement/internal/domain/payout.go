package domain

import (
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// Kind says what a payout is. The numbers are those of the wire and of the stored payout.
type Kind int

// The kinds of payout.
const (
	Advance Kind = iota + 1
	Reversal
	Final
	Fee
	Progress
)

// LineKind says what a line is.
type LineKind int

// The kinds of line.
const (
	LineHoney LineKind = iota + 1
	LineStep
	LineCharge
	LineCredited
	LineRetain
)

// Delivered is a barrel as its live ticket has it.
type Delivered struct {
	Barrel       uuid.UUID
	Ticket       uuid.UUID
	TicketNumber string
	Member       string
	DrumTag      string
	Variety      string
	Net          quantity.Mass
	CropYear     int
	Date         Date
	// Owners are the parts of a shared delivery, by member number; none where Member owns all of it.
	Owners []Owner
	// Weighing says which correction of the ticket's net weight Net rests on; empty for none. Corrected tells it in words.
	Weighing  string
	Corrected string
}

// Certificate is what a released grade says that prices.
type Certificate struct {
	ID         uuid.UUID
	Number     string
	Grade      string
	ColorClass string
	Water      quantity.Percent
	// Readings are the measurements it rests on, in words.
	Readings []string
}

// Explanation opens one amount.
type Explanation struct {
	Rule              string            `json:"rule"`
	Calculation       string            `json:"calculation"`
	Authority         string            `json:"authority"`
	Certificate       string            `json:"certificate,omitempty"`
	CertificateNumber string            `json:"certificate_number,omitempty"`
	Inputs            map[string]string `json:"inputs"`
	Readings          []string          `json:"readings,omitempty"`
}

// Line is one amount with its why. Quantity and Rate are nil where nothing was multiplied.
type Line struct {
	Kind        LineKind
	Code        string
	Description string
	Quantity    *quantity.Mass
	Rate        *quantity.Price
	Amount      quantity.Money
	// Odd is true where the part of a shared line got the odd cent.
	Odd bool
	Why Explanation
}

// Payout is what one barrel earned its member, or one of its owners, at one moment.
type Payout struct {
	ID   uuid.UUID
	Kind Kind
	// Share is the member's part of the barrel; the weights are those of the part.
	Share int64
	// Appeal is what a fee is for; the zero UUID otherwise.
	Appeal      uuid.UUID
	Barrel      Delivered
	Certificate uuid.UUID
	// CertificateNumber is the printed number of Certificate.
	CertificateNumber string
	ColorClass        string
	Grade             string
	Schedule          uuid.UUID
	// Run is the settlement run of a final; the zero UUID otherwise.
	Run uuid.UUID
	// Progress is the progress payment it is of; the zero UUID otherwise.
	Progress uuid.UUID
	// Progressed is, of an advance whose pool is closed, what progress payments have credited beside it.
	Progressed quantity.Money
	Payable    quantity.Mass
	Lines      []Line
	Gross      quantity.Money
	Net        quantity.Money
	// Reverses is the payout taken back; the zero UUID in an advance.
	Reverses uuid.UUID
	Reason   string
	Headline string
	Time     time.Time
	// Number is the place in the order of making, once saved.
	Number int64
}

// Name is "payouts/{uuid}".
func (p *Payout) Name() string { return "payouts/" + p.ID.String() }

// payoutSpace makes payout identities: the same barrel, certificate, ticket and kind are the same payout, whoever prices it
// and however often.
var payoutSpace = uuid.MustParse("6a1f3c52-8d0e-5b7a-9c44-2f10e7b3d915")

// PayoutID is the identity a payout has by what it is for.
func PayoutID(b Delivered, certificate uuid.UUID, kind Kind) uuid.UUID {
	text := fmt.Appendf(nil, "%s/%s/%s/%d", b.Barrel, certificate, b.Ticket, kind)
	if b.Weighing != "" {
		text = fmt.Appendf(text, "/%s", b.Weighing)
	}
	return uuid.NewSHA1(payoutSpace, text)
}

// NewAdvance prices a graded barrel by row of the schedule. Errors: quantity.ErrRange, *TotalError.
func NewAdvance(t *Table, row int, b Delivered, c Certificate, terms Terms, at time.Time) (*Payout, error) {
	var a Amounts
	if err := t.Price(row, b.Net, c.Water, &a); err != nil {
		return nil, fmt.Errorf("price barrel %s: %w", b.DrumTag, err)
	}
	p := &Payout{
		ID: PayoutID(b, c.ID, Advance), Kind: Advance, Share: WholeShare, Barrel: b, Certificate: c.ID,
		CertificateNumber: c.Number, ColorClass: c.ColorClass, Grade: c.Grade, Schedule: t.Schedule.ID, Payable: a.Payable, Gross: a.Gross, Net: a.Net, Time: at,
	}
	e := explainer{terms: terms, schedule: t.Schedule, barrel: b, certificate: c, amounts: a}
	p.Lines, p.Headline = e.lines(), e.headline()
	if b.Corrected != "" {
		p.Headline = sentence(b.Corrected) + ". " + p.Headline
	}
	return p, p.Check()
}

// Reverse takes a payout back to the cent. reason is in plain words and names no other member.
func (p *Payout) Reverse(reason string, terms Terms, at time.Time) (*Payout, error) {
	if p.Kind == Reversal {
		return nil, &StateError{Resource: p.Name(), State: "REVERSAL", Message: "a reversal cannot be reversed"}
	}
	r := *p
	r.ID, r.Kind, r.Reverses = uuid.NewSHA1(payoutSpace, p.ID[:]), Reversal, p.ID
	r.Gross, r.Net, r.Reason, r.Time = -p.Gross, -p.Net, reason, at
	r.Lines = make([]Line, len(p.Lines))
	for i, l := range p.Lines {
		r.Lines[i] = l.mirror(terms)
	}
	r.Headline = reversalHeadline(p, reason, terms)
	return &r, r.Check()
}

func (l Line) mirror(terms Terms) Line {
	l.Amount = -l.Amount
	l.Description = "Taken back: " + l.Description
	l.Why.Rule = "An earlier amount is taken back to the cent. It rested on this rule: " + l.Why.Rule
	l.Why.Calculation = strings.TrimSuffix(l.Why.Calculation, ".") + "; taken back: " + terms.money(l.Amount)
	return l
}

// Check compares the totals with the lines they are made of.
func (p *Payout) Check() error {
	var gross, net quantity.Money
	for _, l := range p.Lines {
		net += l.Amount
		if l.Kind != LineCharge && l.Kind != LineRetain {
			gross += l.Amount
		}
	}
	if err := mustAgree("the gross amount of barrel "+p.Barrel.DrumTag, gross, p.Gross); err != nil {
		return err
	}
	return mustAgree("the net amount of barrel "+p.Barrel.DrumTag, net, p.Net)
}
