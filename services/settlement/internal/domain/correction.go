package domain

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// Correction is a change of a barrel's net weight that leaves its ticket as it is.
type Correction struct {
	// Source names it, e.g. a re-weigh.
	Source string
	// Net is what is added to the net weight of the ticket.
	Net quantity.Mass
	// Words tell it with both weights.
	Words string
}

// Correct counts a correction in. A weight corrected to nothing or less stays what it was: no honey weighs that.
func (b *Delivered) Correct(c Correction) {
	if b.Net+c.Net <= 0 {
		return
	}
	b.Net += c.Net
	if b.Weighing != "" {
		b.Weighing, b.Corrected = b.Weighing+"+", b.Corrected+"; "
	}
	b.Weighing, b.Corrected = b.Weighing+c.Source, b.Corrected+c.Words
}

// Reweighed is the correction of a re-weigh.
func (t Terms) Reweighed(source string, before, after, net, correction quantity.Mass) Correction {
	words := fmt.Sprintf("weighed again, the barrel and its drum came to %s and not %s, so %s net counts", t.mass(after), t.mass(before), t.mass(net))
	if correction == 0 {
		words = fmt.Sprintf("weighed again, the net weight of the ticket, %s, counts after all", t.mass(net))
	}
	return Correction{Source: source, Net: correction, Words: words}
}

// TarePolicy says what an emptied drum that weighs otherwise than its ticket said changes.
type TarePolicy struct {
	// Keep pays by the ticket all the same.
	Keep bool
}

// Tare is the correction of an emptied drum, or false where the difference is let pass. allowed is let pass either way.
func (t Terms) Tare(p TarePolicy, said, empty, correction, allowed quantity.Mass) (Correction, bool) {
	if p.Keep || correction <= allowed && correction >= -allowed {
		return Correction{}, false
	}
	what, amount := "less", -correction
	if correction > 0 {
		what, amount = "more", correction
	}
	return Correction{Net: correction, Words: fmt.Sprintf("the emptied drum weighed %s where the ticket said %s, so there was %s %s honey in it",
		t.mass(empty), t.mass(said), t.mass(amount), what)}, true
}

// RefereeFee is what the outside laboratory of a lost appeal costs.
type RefereeFee struct {
	Barrel, Appeal, Certificate uuid.UUID
	Sample, CertificateNumber   string
	// Words are how the appeal was decided.
	Words string
}

// FeePolicy is what a lost appeal to the referee costs, and the paper that says so. A zero amount charges nothing.
type FeePolicy struct {
	Amount    quantity.Money
	Authority string
}

// RefereeFeeCode is the code of the charge.
const RefereeFeeCode = "REFEREE_FEE"

// NewFee charges a lost appeal to whoever owns the barrel, shared like its pay.
func NewFee(f RefereeFee, b Delivered, p FeePolicy, terms Terms, at time.Time) ([]*Payout, error) {
	b.Weighing, b.Corrected = "", ""
	out := &Payout{
		ID: uuid.NewSHA1(payoutSpace, append([]byte("fee/"), f.Appeal[:]...)), Kind: Fee, Share: WholeShare, Appeal: f.Appeal, Barrel: b,
		Certificate: f.Certificate, CertificateNumber: f.CertificateNumber, Net: -p.Amount, Time: at,
		Headline: fmt.Sprintf("The fee of the outside laboratory, %s, is yours: its result did not differ from ours by more than two readings may. %s",
			terms.money(p.Amount), sentence(f.Words)),
		Lines: []Line{{
			Kind: LineCharge, Code: RefereeFeeCode, Description: "Fee of the outside laboratory", Amount: -p.Amount,
			Why: Explanation{
				Rule: "Whoever loses an appeal to the outside laboratory bears its fee.", Authority: p.Authority,
				Calculation: fmt.Sprintf("1 appeal × %s = %[1]s taken off", terms.money(p.Amount)),
				Certificate: "certificates/" + f.Certificate.String(), CertificateNumber: f.CertificateNumber,
				Inputs: map[string]string{"appeal": "appeals/" + f.Appeal.String(), "decision": f.Words},
			},
		}},
	}
	return out.Split(terms)
}
