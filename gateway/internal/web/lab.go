package web

import (
	"net/url"
	"slices"
	"strings"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
)

// bench is what waits to be measured. It knows blind codes and nothing else.
func (s *site) bench(v *visit) (view, error) {
	d := map[string]any{"Problem": v.URL.Query().Get("unknown"), "MayRead": v.mayCall(recordReading), "MayCertify": v.mayCall(certify)}
	for key, state := range map[string]gradingv1.SampleState{
		"Waiting": gradingv1.SampleState_SAMPLE_STATE_WAITING, "Measured": gradingv1.SampleState_SAMPLE_STATE_MEASURED,
	} {
		found, err := s.grading.ListSamples(v.ctx, &gradingv1.ListSamplesRequest{PageSize: 100, State: state})
		if err != nil {
			return view{}, err
		}
		d[key], d["More"+key] = found.GetSamples(), found.GetNextPageToken() != ""
	}
	return view{page: "bench", title: "Bench", data: d}, nil
}

// findSample takes a scanned code to its jar.
func (s *site) findSample(v *visit) (view, error) {
	code := strings.ToUpper(strings.TrimSpace(v.URL.Query().Get("code")))
	sample, err := s.grading.GetSample(v.ctx, &gradingv1.GetSampleRequest{Name: "samples/" + code})
	f := v.form()
	if f.refused(v, err) {
		return view{goTo: "/bench?unknown=" + url.QueryEscape(f.Problem)}, nil
	}
	if err != nil {
		return view{}, err
	}
	if v.mayCall(recordReading) && sample.GetState() == gradingv1.SampleState_SAMPLE_STATE_WAITING {
		return view{goTo: "/bench/" + idOf(sample.GetName()) + "/read"}, nil
	}
	return view{goTo: "/bench/" + idOf(sample.GetName())}, nil
}

func (s *site) readSample(v *visit) (*gradingv1.Sample, error) {
	return s.grading.GetSample(v.ctx, &gradingv1.GetSampleRequest{Name: "samples/" + v.PathValue("code")})
}

type sampleData struct {
	*gradingv1.Sample
	Form            *form
	Missing         []gradingv1.Factor
	Kinds, Portions []option
	// Bench is what the readings before were made with.
	Bench               bench
	MayRead, MayCertify bool
	MayDouble, MayKey   bool
	MayClaim            bool
	// Claimed is the claim a test was just recorded of.
	Claimed string
	Saved   *gradingv1.Reading
}

// strainedFactors are what a sample is measured for by default; clarity is scored for filtered honey only.
var strainedFactors = []gradingv1.Factor{
	gradingv1.Factor_FACTOR_MOISTURE, gradingv1.Factor_FACTOR_COLOR, gradingv1.Factor_FACTOR_FLAVOR, gradingv1.Factor_FACTOR_DEFECTS,
}

func (s *site) sampleData(v *visit, sample *gradingv1.Sample) sampleData {
	d := sampleData{Sample: sample, MayRead: v.mayCall(recordReading), MayDouble: v.mayCall(createDuplicate), MayKey: v.mayCall(keyOutside), MayClaim: v.mayCall(testClaim)}
	d.Claimed = v.URL.Query().Get("claim")
	standing := map[gradingv1.Factor]*gradingv1.Reading{}
	for _, r := range sample.GetReadings() {
		standing[r.GetFactor()] = r
		if r.GetName() != "" && idOf(r.GetName()) == v.URL.Query().Get("saved") {
			d.Saved = r
		}
	}
	for _, factor := range strainedFactors {
		if standing[factor] == nil {
			d.Missing = append(d.Missing, factor)
		}
	}
	d.MayCertify = v.mayCall(certify) && sample.GetState() != gradingv1.SampleState_SAMPLE_STATE_WAITING
	return d
}

func (s *site) benchSample(v *visit) (view, error) {
	sample, err := s.readSample(v)
	if err != nil {
		return view{}, err
	}
	return view{page: "jar", title: "Sample " + sample.GetCode(), data: s.sampleData(v, sample)}, nil
}

// method is one way to measure, in the order of the bench.
type method struct {
	kind, label, hint string
	factor            gradingv1.Factor
}

var methods = []method{
	{"REFRACTIVE_INDEX", "Refractive index", "1.4700 to 1.5100", gradingv1.Factor_FACTOR_MOISTURE},
	{"MOISTURE_PERCENT", "Water %", "12 to 25", gradingv1.Factor_FACTOR_MOISTURE},
	{"BRIX", "°Brix", "at 20 °C", gradingv1.Factor_FACTOR_MOISTURE},
	{"PFUND_MM", "Colour, mm", "0 to 150", gradingv1.Factor_FACTOR_COLOR},
	{"ABSORBANCE_635", "Colour, absorbance", "635 nm", gradingv1.Factor_FACTOR_COLOR},
	{"FLAVOR", "Flavour", "of 50", gradingv1.Factor_FACTOR_FLAVOR},
	{"DEFECTS", "Absence of defects", "of 40", gradingv1.Factor_FACTOR_DEFECTS},
	{"CLARITY", "Clarity", "of 10, filtered honey", gradingv1.Factor_FACTOR_CLARITY},
}

// reading enters one measurement and goes on to the next factor until the jar is done.
func (s *site) reading(v *visit) (view, error) {
	f := v.form()
	if v.posted {
		saved, err := s.grading.RecordReading(v.ctx, &gradingv1.RecordReadingRequest{
			RequestId: f.RequestID, Sample: "samples/" + v.PathValue("code"),
			Kind:     gradingv1.ReadingKind(gradingv1.ReadingKind_value["READING_KIND_"+f.Value("kind")]),
			RawValue: strings.ReplaceAll(f.Value("raw_value"), ",", "."), TemperatureC: strings.ReplaceAll(f.Value("temperature_c"), ",", "."),
			Instrument: f.Value("instrument"), Reason: f.Value("reason"),
			Portion: gradingv1.SamplePortion(gradingv1.SamplePortion_value["SAMPLE_PORTION_"+f.Value("portion")]),
		})
		if err == nil {
			return view{goTo: v.URL.Path + "?saved=" + url.QueryEscape(idOf(saved.GetName())), cookie: v.keepInstrument(f)}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	sample, err := s.readSample(v)
	if err != nil {
		return view{}, err
	}
	d := s.sampleData(v, sample)
	d.Form, d.Portions = f, portionsLeft(sample)
	if len(d.Portions) > 0 {
		f.set("portion", d.Portions[0].Value)
	}
	var ways []method
	for _, m := range methods {
		d.Kinds = append(d.Kinds, option{Value: m.kind, Label: m.label})
		if len(d.Missing) > 0 && m.factor == d.Missing[0] {
			ways = append(ways, m)
		}
	}
	if len(d.Missing) == 0 && !v.posted && f.Value("kind") == "" {
		return view{page: "jar", title: "Sample " + sample.GetCode(), data: d}, nil
	}
	d.Bench = v.usual(f, ways)
	return view{page: "reading", title: "Sample " + sample.GetCode(), data: d}, nil
}

// portionsLeft are the portions somebody can vouch for.
func portionsLeft(sample *gradingv1.Sample) []option {
	all := []option{{Value: "A", Label: "A, the laboratory's"}, {Value: "B", Label: "B, the member's"}, {Value: "C", Label: "C, the referee's"}}
	return slices.DeleteFunc(all, func(o option) bool {
		return slices.ContainsFunc(sample.GetCustodyGaps(), func(g *gradingv1.CustodyGap) bool {
			return g.GetPortion().String() == "SAMPLE_PORTION_"+o.Value
		})
	})
}

// certify releases a grade.
func (s *site) certify(v *visit) (view, error) {
	f := v.form()
	f.set("style", "STRAINED")
	if v.posted {
		made, err := s.grading.IssueCertificate(v.ctx, &gradingv1.IssueCertificateRequest{
			RequestId: f.RequestID, Sample: "samples/" + v.PathValue("code"),
			Style: gradingv1.Style(gradingv1.Style_value["STYLE_"+f.Value("style")]), Reason: f.Value("reason"),
		})
		if err == nil {
			return view{goTo: "/certificates/" + idOf(made.GetName())}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	sample, err := s.readSample(v)
	if err != nil {
		return view{}, err
	}
	d := s.sampleData(v, sample)
	d.Form = f
	return view{page: "certify", title: "Release sample " + sample.GetCode(), data: d}, nil
}

func (s *site) certificate(v *visit) (view, error) {
	c, err := s.grading.GetCertificate(v.ctx, &gradingv1.GetCertificateRequest{Name: "certificates/" + v.PathValue("id")})
	if err != nil {
		return view{}, err
	}
	return view{page: "certificate", title: "Certificate " + c.GetNumber(), data: certificateView{c, c.GetSupersededBy() == "" && v.mayCall(openAppeal), v.mayCall(testClaim)}}, nil
}

// certificateView is a certificate and what its reader may do about it.
type certificateView struct {
	*gradingv1.Certificate
	MayAppeal, MayClaim bool
}

func (s *site) certificates(v *visit) (view, error) {
	found, err := s.grading.ListCertificates(v.ctx, &gradingv1.ListCertificatesRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	return view{page: "certificates", title: "Certificates", data: map[string]any{
		"Certificates": found.GetCertificates(), "Next": nextPage(v, found.GetNextPageToken()),
	}}, nil
}
