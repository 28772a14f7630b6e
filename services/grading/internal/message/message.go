// Package message turns what the laboratory knows into its wire form, for answers and for facts alike.
package message

import (
	"time"

	"github.com/google/uuid"
	"google.golang.org/protobuf/types/known/timestamppb"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
)

// Prefixes of the enum values; the rest is the domain's own name.
const (
	factorPrefix  = "FACTOR_"
	kindPrefix    = "READING_KIND_"
	statePrefix   = "SAMPLE_STATE_"
	stylePrefix   = "STYLE_"
	verdictPrefix = "CONTROL_VERDICT_"
)

// Sample is one sample with its standing readings.
func Sample(s domain.Sample, state domain.SampleState, standing []domain.Reading, certificate string, by *domain.Standard) *gradingv1.Sample {
	return &gradingv1.Sample{
		Name: s.Name(), Code: s.Code, Variety: s.Variety, CropYear: s.CropYear, DrawTime: timestamppb.New(s.DrawTime),
		State: gradingv1.SampleState(gradingv1.SampleState_value[statePrefix+state.String()]), Readings: readings(standing, by), Certificate: certificate,
	}
}

func readings(list []domain.Reading, by *domain.Standard) []*gradingv1.Reading {
	out := make([]*gradingv1.Reading, 0, len(list))
	for i := range list {
		out = append(out, Reading(&list[i], by))
	}
	return out
}

// Reading is one measurement. What is advised about it follows from the limits of the standard its sample is judged by.
func Reading(r *domain.Reading, by *domain.Standard) *gradingv1.Reading {
	return &gradingv1.Reading{
		Name: r.Name(), Sample: domain.SampleName(r.Sample), Kind: Kind(r.Kind), Factor: Factor(r.Factor),
		RawValue: r.RawValue, TemperatureC: r.Temperature,
		ReportedValue: r.Factor.Format(r.Reported), ComputedValue: r.Factor.Format(r.Computed),
		Instrument: r.Instrument, Analyst: r.Analyst, ReadTime: timestamppb.New(r.Time),
		Replaces: named("readings/", r.Replaces), Explanation: r.Explanation, Reason: r.Reason,
		Mean: r.Mean, Portion: Portion(r.Portion), Advice: domain.House().BorderlineWords(by, r),
	}
}

func named(prefix string, id *uuid.UUID) string {
	if id == nil {
		return ""
	}
	return prefix + id.String()
}

// Factor is the wire form of a factor.
func Factor(f domain.Factor) gradingv1.Factor {
	return gradingv1.Factor(f) //nolint:gosec // a test holds the two to the same numbers
}

// Kind is the wire form of a method.
func Kind(k domain.Kind) gradingv1.ReadingKind {
	return gradingv1.ReadingKind(gradingv1.ReadingKind_value[kindPrefix+k.String()])
}

// Style is the wire form of a style.
func Style(s domain.Style) gradingv1.Style {
	return gradingv1.Style(gradingv1.Style_value[stylePrefix+s.String()])
}

// Decision is the outcome of judging.
func Decision(d *domain.Decision) *gradingv1.Decision {
	out := &gradingv1.Decision{
		Standard: d.Standard, StandardVersion: d.StandardVersion, Grade: d.Grade, ColorClass: d.ColorClass,
		TotalScore: d.Total, MoisturePercent: d.Moisture, PfundMm: d.Color, Explanation: d.Explanation,
		Summary: d.Short,
	}
	for _, f := range d.NotJudged {
		out.NotJudged = append(out.NotJudged, Factor(f))
	}
	results := make([]gradingv1.FactorResult, len(d.Factors))
	out.Factors = make([]*gradingv1.FactorResult, 0, len(d.Factors))
	for i := range d.Factors {
		f, r := &d.Factors[i], &results[i]
		r.Factor, r.Value, r.Grade, r.Limit = Factor(f.Factor), f.Factor.Format(f.Value), f.Grade, f.Limit
		r.Limiting, r.Source, r.Provisional = f.Limiting, f.Source, f.Provisional
		out.Factors = append(out.Factors, r)
	}
	return out
}

// Measurement is what a raw reading came to.
func Measurement(m *domain.Measurement, raw *gradingv1.RawReading) *gradingv1.Measurement {
	return &gradingv1.Measurement{
		RawReading: raw, Factor: Factor(m.Factor), ComputedValue: m.Factor.Format(m.Computed), ReportedValue: m.Factor.Format(m.Reported),
		Explanation: m.Explanation,
	}
}

// Certificate is a released decision. supersededBy is nil while it stands.
func Certificate(c *domain.Certificate, supersededBy *uuid.UUID, by *domain.Standard) *gradingv1.Certificate {
	return &gradingv1.Certificate{
		Name: c.Name(), Number: c.Number, Sample: domain.SampleName(c.Sample), Variety: c.Variety, CropYear: c.CropYear,
		Decision: Decision(&c.Decision), Readings: readings(c.Readings, by), Style: Style(c.Style), Releaser: c.Releaser,
		IssueTime: timestamppb.New(c.Time), Supersedes: named("certificates/", c.Supersedes),
		SupersededBy: named("certificates/", supersededBy), Reason: c.Reason, AppealUntil: c.AppealUntil.Format(time.DateOnly),
	}
}

// Standard is a version of a scheme with all its figures. replaced is the first day of the next version, empty for the newest.
func Standard(s *domain.Standard, replaced string) *gradingv1.Standard {
	out := &gradingv1.Standard{
		Name: s.Name(), Title: s.Title, Version: s.Version, EffectiveDate: s.EffectiveDate, Source: s.Source, ReplacedDate: replaced,
	}
	limits, colors := s.Limits(), s.Colors()
	for i := range limits {
		l := &limits[i]
		out.Limits = append(out.Limits, &gradingv1.StandardLimit{
			Grade: s.Grades[l.Grade].ID, Factor: Factor(l.Factor), Limit: l.Text(), Source: l.Source, Provenance: l.Provenance,
		})
	}
	for i := range colors {
		c := &colors[i]
		out.Limits = append(out.Limits, &gradingv1.StandardLimit{
			Grade: c.ID, Factor: gradingv1.Factor_FACTOR_COLOR, Limit: c.Text(), Source: c.Source, Provenance: c.Provenance,
		})
	}
	for _, sw := range s.Switches {
		out.Switches = append(out.Switches, &gradingv1.StandardSwitch{
			Id: sw.ID, On: sw.On, Meaning: sw.Meaning, Source: sw.Source, Provenance: sw.Provenance,
		})
	}
	return out
}

// Verification is what is shown to anybody who asks. An altered record is not shown: its figures are worth nothing.
func Verification(c *domain.Certificate, supersededBy *uuid.UUID, s *domain.Signature, verdict domain.Authenticity, text string) *gradingv1.CertificateVerification {
	out := &gradingv1.CertificateVerification{
		Certificate: c.Name(), Explanation: text,
		Authenticity: gradingv1.Authenticity(gradingv1.Authenticity_value["AUTHENTICITY_"+string(verdict)]),
	}
	if s != nil {
		out.Payload, out.Signature, out.PublicKey, out.SigningKey = s.Payload, s.Signature, s.Key.Public, s.Key.ID
		out.PublicKeyPem = s.Key.PEM()
	}
	if verdict == domain.Altered {
		return out
	}
	d := &c.Decision
	out.Number, out.Variety, out.CropYear, out.Grade, out.ColorClass = c.Number, c.Variety, c.CropYear, d.Grade, d.ColorClass
	out.MoisturePercent, out.Standard, out.IssueTime = d.Moisture, d.Standard, timestamppb.New(c.Time)
	out.SupersededBy = named("certificates/", supersededBy)
	return out
}
