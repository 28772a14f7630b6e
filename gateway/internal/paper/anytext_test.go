package paper

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Whatever people type, the paper is drawn: an emoji in a name must not keep a truck waiting.
func TestPapers_TakeAnyText(t *testing.T) {
	t.Parallel()
	p := testPress(t, prefix)
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.String(), rapid.StringN(100, 200, -1), rapid.SampledFrom([]string{"🐝 Hives", "\xff\xfe", "{nb}", "مناحل الوادي", "\u0000\u2028", "(\\)"})).Draw(t, "text")
		draw := rapid.SampledFrom([]func(*press, string) ([]byte, error){ticketWith, certificateWith, payoutsWith}).Draw(t, "paper")
		pdf, err := draw(p, text)
		require.NoError(t, err)
		require.NotEmpty(t, pdf)
	})
}

func ticketWith(p *press, text string) ([]byte, error) {
	d := testDelivery(2)
	d.ticket.MemberDisplayName, d.ticket.Hauler, d.ticket.Barrels[1].Reason, d.ticket.Barrels[0].Variety = text, text, text, text
	p.ticketText(d)
	return p.ticketPDF(d)
}

func certificateWith(p *press, text string) ([]byte, error) {
	c := testCertificate()
	c.Decision.Explanation, c.Readings[0].Instrument = text, text
	return p.certificate(graded{certificate: c})
}

func payoutsWith(p *press, text string) ([]byte, error) {
	payouts := testPayouts()
	payouts[1].Headline, payouts[1].Lines[0].Description = text, text
	m := testMember()
	m.DisplayName = text
	a, err := newAccount(m, payouts, nil, "USD")
	if err != nil {
		return nil, err
	}
	return p.payoutsPDF(a)
}
