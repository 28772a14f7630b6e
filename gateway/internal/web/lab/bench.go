package lab

import (
	"net/url"
	"slices"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
)

// bench is what waits to be measured. It knows blind codes and nothing else.
func (s room) bench(v *site.Visit) (site.View, error) {
	d := map[string]any{"Problem": v.URL.Query().Get("unknown"), "MayRead": v.MayCall(recordReading), "MayCertify": v.MayCall(certify)}
	for key, state := range map[string]gradingv1.SampleState{
		"Waiting": gradingv1.SampleState_SAMPLE_STATE_WAITING, "Measured": gradingv1.SampleState_SAMPLE_STATE_MEASURED,
	} {
		found, err := s.Grading.ListSamples(v.Ctx, &gradingv1.ListSamplesRequest{PageSize: 100, State: state})
		if err != nil {
			return site.View{}, err
		}
		d[key], d["More"+key] = found.GetSamples(), found.GetNextPageToken() != ""
	}
	return site.View{Page: "bench", Title: "Bench", Data: d}, nil
}

// findSample takes a scanned code to its jar.
func (s room) findSample(v *site.Visit) (site.View, error) {
	code := strings.ToUpper(strings.TrimSpace(v.URL.Query().Get("code")))
	sample, err := s.Grading.GetSample(v.Ctx, &gradingv1.GetSampleRequest{Name: "samples/" + code})
	f := v.Form()
	if f.Refused(v, err) {
		return site.View{GoTo: "/bench?unknown=" + url.QueryEscape(f.Problem)}, nil
	}
	if err != nil {
		return site.View{}, err
	}
	if v.MayCall(recordReading) && sample.GetState() == gradingv1.SampleState_SAMPLE_STATE_WAITING {
		return site.View{GoTo: "/bench/" + site.IDOf(sample.GetName()) + "/read"}, nil
	}
	return site.View{GoTo: "/bench/" + site.IDOf(sample.GetName())}, nil
}

func (s room) readSample(v *site.Visit) (*gradingv1.Sample, error) {
	return s.Grading.GetSample(v.Ctx, &gradingv1.GetSampleRequest{Name: "samples/" + v.PathValue("code")})
}

type sampleData struct {
	*gradingv1.Sample
	Form            *site.Form
	Missing         []gradingv1.Factor
	Kinds, Portions []site.Option
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

func (s room) sampleData(v *site.Visit, sample *gradingv1.Sample) sampleData {
	d := sampleData{Sample: sample, MayRead: v.MayCall(recordReading), MayDouble: v.MayCall(createDuplicate), MayKey: v.MayCall(keyOutside), MayClaim: v.MayCall(testClaim)}
	d.Claimed = v.URL.Query().Get("claim")
	standing := map[gradingv1.Factor]*gradingv1.Reading{}
	for _, r := range sample.GetReadings() {
		standing[r.GetFactor()] = r
		if r.GetName() != "" && site.IDOf(r.GetName()) == v.URL.Query().Get("saved") {
			d.Saved = r
		}
	}
	for _, factor := range strainedFactors {
		if standing[factor] == nil {
			d.Missing = append(d.Missing, factor)
		}
	}
	d.MayCertify = v.MayCall(certify) && sample.GetState() != gradingv1.SampleState_SAMPLE_STATE_WAITING
	return d
}

func (s room) benchSample(v *site.Visit) (site.View, error) {
	sample, err := s.readSample(v)
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "jar", Title: "Sample " + sample.GetCode(), Data: s.sampleData(v, sample)}, nil
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
func (s room) reading(v *site.Visit) (site.View, error) {
	f := v.Form()
	if v.Posted {
		saved, err := s.Grading.RecordReading(v.Ctx, &gradingv1.RecordReadingRequest{
			RequestId: f.RequestID, Sample: "samples/" + v.PathValue("code"),
			Kind:     gradingv1.ReadingKind(gradingv1.ReadingKind_value["READING_KIND_"+f.Value("kind")]),
			RawValue: strings.ReplaceAll(f.Value("raw_value"), ",", "."), TemperatureC: strings.ReplaceAll(f.Value("temperature_c"), ",", "."),
			Instrument: f.Value("instrument"), Reason: f.Value("reason"),
			Portion: gradingv1.SamplePortion(gradingv1.SamplePortion_value["SAMPLE_PORTION_"+f.Value("portion")]),
		})
		if err == nil {
			return site.View{GoTo: v.URL.Path + "?saved=" + url.QueryEscape(site.IDOf(saved.GetName())), Cookie: keepInstrument(v, f)}, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	sample, err := s.readSample(v)
	if err != nil {
		return site.View{}, err
	}
	d := s.sampleData(v, sample)
	d.Form, d.Portions = f, portionsLeft(sample)
	if len(d.Portions) > 0 {
		f.Set("portion", d.Portions[0].Value)
	}
	var ways []method
	for _, m := range methods {
		d.Kinds = append(d.Kinds, site.Option{Value: m.kind, Label: m.label})
		if len(d.Missing) > 0 && m.factor == d.Missing[0] {
			ways = append(ways, m)
		}
	}
	if len(d.Missing) == 0 && !v.Posted && f.Value("kind") == "" {
		return site.View{Page: "jar", Title: "Sample " + sample.GetCode(), Data: d}, nil
	}
	d.Bench = usual(v, f, ways)
	return site.View{Page: "reading", Title: "Sample " + sample.GetCode(), Data: d}, nil
}

// portionsLeft are the portions somebody can vouch for.
func portionsLeft(sample *gradingv1.Sample) []site.Option {
	all := []site.Option{{Value: "A", Label: "A, the laboratory's"}, {Value: "B", Label: "B, the member's"}, {Value: "C", Label: "C, the referee's"}}
	return slices.DeleteFunc(all, func(o site.Option) bool {
		return slices.ContainsFunc(sample.GetCustodyGaps(), func(g *gradingv1.CustodyGap) bool {
			return g.GetPortion().String() == "SAMPLE_PORTION_"+o.Value
		})
	})
}

// certify releases a grade.
func (s room) certify(v *site.Visit) (site.View, error) {
	f := v.Form()
	f.Set("style", "STRAINED")
	if v.Posted {
		made, err := s.Grading.IssueCertificate(v.Ctx, &gradingv1.IssueCertificateRequest{
			RequestId: f.RequestID, Sample: "samples/" + v.PathValue("code"),
			Style: gradingv1.Style(gradingv1.Style_value["STYLE_"+f.Value("style")]), Reason: f.Value("reason"),
		})
		if err == nil {
			return site.View{GoTo: "/certificates/" + site.IDOf(made.GetName())}, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	sample, err := s.readSample(v)
	if err != nil {
		return site.View{}, err
	}
	d := s.sampleData(v, sample)
	d.Form = f
	return site.View{Page: "certify", Title: "Release sample " + sample.GetCode(), Data: d}, nil
}

func (s room) certificate(v *site.Visit) (site.View, error) {
	c, err := s.Grading.GetCertificate(v.Ctx, &gradingv1.GetCertificateRequest{Name: "certificates/" + v.PathValue("id")})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "certificate", Title: "Certificate " + c.GetNumber(), Data: certificateView{c, c.GetSupersededBy() == "" && v.MayCall(openAppeal), v.MayCall(testClaim)}}, nil
}

// certificateView is a certificate and what its reader may do about it.
type certificateView struct {
	*gradingv1.Certificate
	MayAppeal, MayClaim bool
}

func (s room) certificates(v *site.Visit) (site.View, error) {
	found, err := s.Grading.ListCertificates(v.Ctx, &gradingv1.ListCertificatesRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "certificates", Title: "Certificates", Data: map[string]any{
		"Certificates": found.GetCertificates(), "Next": site.NextPage(v, found.GetNextPageToken()),
	}}, nil
}
