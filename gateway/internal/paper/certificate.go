package paper

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
)

// graded is a certificate with the printed numbers of those it replaces and is replaced by. There is no member, ticket or
// barrel in it: a buyer's copy cannot say whose honey it is, because the laboratory does not know.
type graded struct {
	certificate          *gradingv1.Certificate
	replaces, replacedBy string
}

func (p *press) certificate(g graded) ([]byte, error) {
	c := g.certificate
	check := checkCode(c)
	s := newSheet(letter, "Certificate of grade "+c.GetNumber(), c.GetIssueTime().AsTime())
	s.numbered(p.Cooperative.Name+" · laboratory, site "+p.Cooperative.Site, "Certificate "+c.GetNumber()+" · check code "+check,
		map[bool]string{true: "SUPERSEDED"}[g.replacedBy != ""])
	s.AddPage()
	if err := s.square(c.GetNumber()+" "+check, 168, 20, 32); err != nil {
		return nil, err
	}
	s.line("B", 20, "Certificate of grade")
	s.line("B", 14, c.GetNumber())
	s.Ln(3)
	s.line("B", 16, outcome(c.GetDecision()))
	s.Ln(5)
	if g.replacedBy != "" {
		s.boxed("SUPERSEDED", "Replaced by "+g.replacedBy+". This certificate counts no more.")
	}
	if c.GetUnfitReason() != "" {
		s.boxed("NOTHING MAY BE TAKEN OFF", c.GetUnfitReason()+".")
	}
	if c.GetInDoubt() {
		s.boxed("IN DOUBT", "A failed control puts a reading in doubt. Nothing is paid on it until that is cleared up.")
	}
	if g.replaces != "" {
		s.boxed("ISSUED ANEW", strings.TrimSpace("Replaces "+g.replaces+". Why: "+orElse(c.GetReason(), "not said")+"."))
	}
	s.facts(2, p.certificateFacts(c)...)
	s.Ln(3)
	s.paragraph("", 10, c.GetDecision().GetExplanation())
	if c.GetDecision().GetSummary() != "" {
		s.paragraph("", 10, c.GetDecision().GetSummary())
	}
	s.Ln(3)
	s.factors(c.GetDecision())
	s.readings(p, c)
	s.cautions(c)
	return s.bytes()
}

// outcome is the first line: what a buyer looks for.
func outcome(d *gradingv1.Decision) string {
	parts := []string{}
	if d.GetGrade() == "SUBSTANDARD" {
		parts = append(parts, "Substandard")
	} else if d.GetGrade() != "" {
		parts = append(parts, "Grade "+d.GetGrade())
	}
	if d.GetColorClass() != "" {
		parts = append(parts, words(d.GetColorClass()))
	}
	if d.GetMoisturePercent() != "" {
		parts = append(parts, d.GetMoisturePercent()+" % water")
	}
	if len(parts) == 0 {
		return "Not graded"
	}
	return strings.Join(parts, ", ")
}

func (p *press) certificateFacts(c *gradingv1.Certificate) []fact {
	d := c.GetDecision()
	return []fact{
		{"Sample", last(c.GetSample())},
		{"Crop year", fmt.Sprint(c.GetCropYear())},
		{"Declared floral source", c.GetVariety()},
		{"Style", words(c.GetStyle())},
		{"Standard", last(d.GetStandard()) + ", version " + d.GetStandardVersion()},
		{"Colour", orNone(strings.TrimSpace(d.GetPfundMm() + map[bool]string{true: " mm Pfund"}[d.GetPfundMm() != ""]))},
		{"Points of 100", orNone(d.GetTotalScore())},
		{"Issued", p.minute(c.GetIssueTime())},
		{"Released by", last(c.GetReleaser())},
		{"Appeal until", day(c.GetAppealUntil())},
	}
}

func (s *sheet) factors(d *gradingv1.Decision) {
	s.together(30)
	columns := []column{{"Factor", 32, "L"}, {"Value", 26, "R"}, {"Allows", 24, "L"}, {"Limit", 103.9, "L"}}
	s.heads(columns)
	for _, f := range d.GetFactors() {
		allows, style := orNone(f.GetGrade()), ""
		if f.GetLimiting() {
			allows, style = allows+", decides", "B"
		}
		limit := f.GetLimit()
		if f.GetProvisional() {
			limit += " (limit not confirmed in print)"
		}
		s.row(columns, style, words(f.GetFactor()), f.GetValue(), allows, limit)
	}
	s.Ln(4)
}

func (s *sheet) readings(p *press, c *gradingv1.Certificate) {
	s.together(30)
	columns := []column{{"Reading", 40, "L"}, {"Shown", 26, "R"}, {"At", 18, "R"}, {"Reported", 22, "R"}, {"Instrument", 26, "L"}, {"Analyst", 22, "L"}, {"Read", 31.9, "L"}}
	s.heads(columns)
	for _, r := range c.GetReadings() {
		temperature := none
		if r.GetTemperatureC() != "" {
			temperature = r.GetTemperatureC() + " °C"
		}
		s.together(12)
		s.row(columns, "", words(r.GetKind()), r.GetRawValue(), temperature, r.GetReportedValue(), orNone(r.GetInstrument()), last(r.GetAnalyst()), p.minute(r.GetReadTime()))
		if r.GetExplanation() != "" {
			s.paragraph("", 8, "      "+r.GetExplanation())
			s.Ln(0.8)
		}
	}
	s.Ln(4)
}

func (s *sheet) cautions(c *gradingv1.Certificate) {
	s.together(34)
	for _, text := range []string{
		"The results are those of the sample named above. Screening results are not findings of an authority.",
		"Organic, origin, floral and other claims are allowed only with evidence on file; the certifier or authority decides.",
		"Do not feed honey to infants under 12 months of age.",
		"To verify: the square holds the number and the check code. The laboratory works the code out again from its records; if " +
			c.GetNumber() + " does not come to " + checkCode(c) + ", something on this paper was changed.",
	} {
		s.paragraph("", 8.5, text)
		s.Ln(1)
	}
}

// checkCode is a fingerprint of what was decided and on what. What happened to the certificate later is not part of it.
func checkCode(c *gradingv1.Certificate) string {
	d := c.GetDecision()
	parts := []string{
		c.GetNumber(), c.GetSample(), c.GetVariety(), fmt.Sprint(c.GetCropYear()), c.GetStyle().String(), c.GetReleaser(),
		c.GetIssueTime().AsTime().Format("2006-01-02T15:04:05.000000Z"), c.GetSupersedes(), d.GetStandard(), d.GetStandardVersion(), d.GetGrade(),
		d.GetColorClass(), d.GetTotalScore(), d.GetMoisturePercent(), d.GetPfundMm(),
	}
	for _, r := range c.GetReadings() {
		parts = append(parts, r.GetName(), r.GetKind().String(), r.GetRawValue(), r.GetTemperatureC(), r.GetReportedValue(), r.GetInstrument(), r.GetAnalyst())
	}
	sum := sha256.Sum256([]byte(strings.Join(parts, "\x1f")))
	text := strings.ToUpper(hex.EncodeToString(sum[:6]))
	return text[:4] + "-" + text[4:8] + "-" + text[8:]
}
