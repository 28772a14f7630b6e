package rpc_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/rpctest"
)

func (l *lab) key(who gradingv1.GradingServiceClient, sample, analyte, value, report string) *gradingv1.OutsideResult {
	l.t.Helper()
	r, err := who.KeyOutsideResult(l.t.Context(), &gradingv1.KeyOutsideResultRequest{
		RequestId: id(), Sample: sample, Analyte: analyte, Value: value, Laboratory: "Ridge Analytical", Report: report,
	})
	require.NoError(l.t, err)
	return r
}

func (l *lab) confirm(who gradingv1.GradingServiceClient, name, value string) (*gradingv1.OutsideResult, error) {
	l.t.Helper()
	return who.ConfirmOutsideResult(l.t.Context(), &gradingv1.ConfirmOutsideResultRequest{RequestId: id(), Name: name, Value: value})
}

// keyed by both technicians alike.
func (l *lab) twice(sample, analyte, value, report string) *gradingv1.OutsideResult {
	l.t.Helper()
	r, err := l.confirm(l.second, l.key(l.tech, sample, analyte, value, report).GetName(), value)
	require.NoError(l.t, err)
	require.Equal(l.t, gradingv1.OutsideState_OUTSIDE_STATE_CONFIRMED, r.GetState())
	return r
}

func (l *lab) compose(samples ...string) *gradingv1.Composite {
	l.t.Helper()
	c, err := l.lead.CreateComposite(l.t.Context(), &gradingv1.CreateCompositeRequest{RequestId: id(), Samples: samples, GramsEach: "25"})
	require.NoError(l.t, err)
	return c
}

func (l *lab) composite(name string) *gradingv1.Composite {
	l.t.Helper()
	c, err := l.tech.GetComposite(l.t.Context(), &gradingv1.GetCompositeRequest{Name: name})
	require.NoError(l.t, err)
	return c
}

// payloads are the facts of one kind, in order.
func payloads[M proto.Message](l *lab) []M {
	l.t.Helper()
	require.NoError(l.t, feed.Number(l.t.Context(), l.db.Pool()))
	rows, err := l.db.Pool().Query(l.t.Context(), `SELECT type, payload FROM event ORDER BY sequence`)
	require.NoError(l.t, err)
	defer rows.Close()
	var out []M
	for rows.Next() {
		var kind string
		var payload []byte
		require.NoError(l.t, rows.Scan(&kind, &payload))
		var zero M
		m, ok := zero.ProtoReflect().New().Interface().(M)
		require.True(l.t, ok)
		if kind == string(m.ProtoReflect().Descriptor().FullName()) {
			require.NoError(l.t, proto.Unmarshal(payload, m))
			out = append(out, m)
		}
	}
	require.NoError(l.t, rows.Err())
	return out
}

// Bad day: a composite of 20 shows a drug residue. 20 are held, 19 released, 1 disposed of.
func TestACompositeWithAResidueCondemnsNobody(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	var samples []string
	for i := range 20 {
		samples = append(samples, l.draw(fmt.Sprintf("7KQ2XN%02d", i)))
	}
	c := l.compose(samples...)
	require.Len(t, c.GetMembers(), 20)
	require.NotContains(t, samples, c.GetSample(), "a code of its own")
	require.Empty(t, payloads[*gradingv1.ResidueSuspected](l))

	l.twice(c.GetSample(), "TYLOSIN", "<5", "R-1")
	require.Equal(t, gradingv1.CompositeState_COMPOSITE_STATE_CLEAR, l.composite(c.GetName()).GetState())
	found := l.twice(c.GetSample(), "NITROFURANS", "0.3", "R-1")
	require.True(t, found.GetOver())
	suspected := payloads[*gradingv1.ResidueSuspected](l)
	require.Len(t, suspected, 1)
	require.ElementsMatch(t, samples, suspected[0].GetSamples(), "20 held")
	require.Equal(t, c.GetName(), suspected[0].GetComposite())
	require.Equal(t, "0.3 µg/kg nitrofurans: detected, where none may be. Each of its 20 samples must be tested singly.", suspected[0].GetExplanation())
	require.Equal(t, gradingv1.CompositeState_COMPOSITE_STATE_EXPLODED, l.composite(c.GetName()).GetState())
	for _, m := range l.composite(c.GetName()).GetMembers() {
		require.Equal(t, gradingv1.Suspicion_SUSPICION_OPEN, m.GetSuspicion())
		require.Equal(t, []string{"NITROFURANS"}, m.GetAnalytes())
	}
	_, err := l.lead.CreateComposite(t.Context(), &gradingv1.CreateCompositeRequest{RequestId: id(), Samples: samples[:2], GramsEach: "25"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": samples[0], "state": "SUSPECTED"})

	const bad = 13
	for i, sample := range samples {
		// Another analyte clears nothing of this one.
		value := "<0.3"
		if i == bad {
			value = "5.9"
		}
		l.twice(sample, "TYLOSIN", "<5", "R-2")
		l.twice(sample, "NITROFURANS", value, "R-2")
	}
	var cleared []string
	for _, f := range payloads[*gradingv1.SampleCleared](l) {
		cleared = append(cleared, f.GetSample())
		require.Equal(t, []string{found.GetName()}, f.GetSuspicions())
	}
	require.Len(t, cleared, 19)
	require.NotContains(t, cleared, samples[bad])
	confirmed := payloads[*gradingv1.ResidueConfirmed](l)
	require.Len(t, confirmed, 1)
	require.Equal(t, samples[bad], confirmed[0].GetSample())

	dispose := func(who gradingv1.GradingServiceClient, sample string) error {
		_, err := who.DisposeSample(t.Context(), &gradingv1.DisposeSampleRequest{
			RequestId: id(), Sample: sample, Disposition: gradingv1.Disposition_DISPOSITION_DESTROY, Reason: "witnessed by the warehouse lead",
		})
		return err
	}
	rpctest.RefusedAs(t, dispose(l.as("tech2", accessv1.Role_ROLE_LAB_LEAD), samples[bad]), errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": "users/tech2"})
	rpctest.RefusedAs(t, dispose(l.lead, samples[0]), errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": samples[0], "state": "CLEARED"})
	require.NoError(t, dispose(l.lead, samples[bad]))
	rpctest.RefusedAs(t, dispose(l.lead, samples[bad]), errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": samples[bad], "state": "DISPOSED"})
	require.Len(t, payloads[*gradingv1.SampleDisposed](l), 1)
	count := map[gradingv1.Suspicion]int{}
	for _, m := range l.composite(c.GetName()).GetMembers() {
		count[m.GetSuspicion()]++
		require.Equal(t, m.GetSample() == samples[bad], m.GetDisposition() == gradingv1.Disposition_DISPOSITION_DESTROY)
	}
	require.Equal(t, map[gradingv1.Suspicion]int{gradingv1.Suspicion_SUSPICION_CLEARED: 19, gradingv1.Suspicion_SUSPICION_CONFIRMED: 1}, count)
}

func TestFourEyesOnAnOutsideResult(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	sample := l.draw("7KQ2XN4T")
	first := l.key(l.tech, sample, "HMF", "12.4", "R-7")
	_, err := l.confirm(l.tech, first.GetName(), "12.4")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": "users/tech1"})
	_, err = l.confirm(l.second, first.GetName(), "14.2")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{
		"resource": first.GetName(), "state": "MISMATCH", "first_value": "12.4", "second_value": "14.2", "first": "users/tech1", "second": "users/tech2",
	})
	require.ErrorContains(t, err, "users/tech1 keyed 12.4 mg/kg of HMF and users/tech2 keyed 14.2: look at the report together")
	_, err = l.confirm(l.second, first.GetName(), "<12.4")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{
		"resource": first.GetName(), "state": "MISMATCH", "first_value": "12.4", "second_value": "<12.4", "first": "users/tech1", "second": "users/tech2",
	})
	again := &gradingv1.KeyOutsideResultRequest{RequestId: id(), Sample: sample, Analyte: "hmf", Value: "14.2", Laboratory: "Ridge Analytical", Report: "R-7"}
	_, err = l.second.KeyOutsideResult(t.Context(), again)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ALREADY_EXISTS, map[string]string{"resource": first.GetName()})
	gone, err := l.tech.WithdrawOutsideResult(t.Context(), &gradingv1.WithdrawOutsideResultRequest{RequestId: id(), Name: first.GetName(), Reason: "digits swapped"})
	require.NoError(t, err)
	require.Equal(t, gradingv1.OutsideState_OUTSIDE_STATE_WITHDRAWN, gone.GetState())
	_, err = l.confirm(l.second, first.GetName(), "12.4")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": first.GetName(), "state": "WITHDRAWN"})

	second, err := l.second.KeyOutsideResult(t.Context(), again)
	require.NoError(t, err)
	// Until it is keyed twice nobody else sees it, and it is no reading.
	for who, want := range map[gradingv1.GradingServiceClient]string{l.second: "14.2", l.tech: ""} {
		list, err := who.ListOutsideResults(t.Context(), &gradingv1.ListOutsideResultsRequest{Sample: sample, PageSize: 1})
		require.NoError(t, err)
		require.Equal(t, want, list.GetResults()[0].GetValue())
		require.NotEmpty(t, list.GetNextPageToken())
	}
	s, err := l.tech.GetSample(t.Context(), &gradingv1.GetSampleRequest{Name: sample})
	require.NoError(t, err)
	require.Empty(t, s.GetReadings())
	done, err := l.confirm(l.tech, second.GetName(), "14.20")
	require.NoError(t, err)
	s, err = l.tech.GetSample(t.Context(), &gradingv1.GetSampleRequest{Name: sample})
	require.NoError(t, err)
	require.Len(t, s.GetReadings(), 1)
	require.Equal(t, done.GetReading(), s.GetReadings()[0].GetName())
	require.Equal(t, "14.2", s.GetReadings()[0].GetReportedValue())
	require.Contains(t, s.GetReadings()[0].GetExplanation(), "users/tech2 keyed 14.2 of report R-7, confirmed by users/tech1.")
	// Nobody gets round the second pair of eyes.
	_, err = l.tech.RecordReading(t.Context(), &gradingv1.RecordReadingRequest{RequestId: id(), Sample: sample, Kind: gradingv1.ReadingKind_READING_KIND_HMF, RawValue: "3", Reason: "x"})
	rpctest.Faults(t, err, "kind")
	// Less than a limit of detection counts as the limit, the worst it can be, and replaces what an earlier report said.
	l.twice(sample, "HMF", "<1.0", "R-8")
	s, err = l.tech.GetSample(t.Context(), &gradingv1.GetSampleRequest{Name: sample})
	require.NoError(t, err)
	require.Equal(t, "1.0", s.GetReadings()[0].GetReportedValue())
	require.Equal(t, "report R-8", s.GetReadings()[0].GetReason())
	for analyte, value := range map[string]string{"DIASTASE": "<8", "HMF": "1001", "NITROFURANS": "<0", "CONDUCTIVITY": "much"} {
		_, err := l.tech.KeyOutsideResult(t.Context(), &gradingv1.KeyOutsideResultRequest{RequestId: id(), Sample: sample, Analyte: analyte, Value: value, Laboratory: "x", Report: "y"})
		require.Error(t, err, analyte)
	}
}

// A residue in a sample nobody suspected holds it at once. A method too coarse for the limit clears nothing.
func TestAResidueInASingleSample(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	sample := l.draw("7KQ2XN4T")
	require.False(t, l.twice(sample, "TYLOSIN", "100", "R-1").GetOver())
	require.Contains(t, l.twice(sample, "TYLOSIN", "<200", "R-2").GetExplanation(), "clears nothing")
	require.Len(t, payloads[*gradingv1.ResidueSuspected](l), 1)
	require.Equal(t, []string{sample}, payloads[*gradingv1.ResidueSuspected](l)[0].GetSamples())
	require.Len(t, payloads[*gradingv1.ResidueConfirmed](l), 1)
	require.Empty(t, payloads[*gradingv1.SampleCleared](l))
	analytes, err := l.tech.ListAnalytes(t.Context(), &gradingv1.ListAnalytesRequest{})
	require.NoError(t, err)
	require.Len(t, analytes.GetAnalytes(), 13)

	// The result of a duplicate jar speaks for the sample it was taken from; the neighbours hear of no other code.
	other := l.draw("DRH3C9WY")
	jar, err := l.lead.CreateDuplicate(t.Context(), &gradingv1.CreateDuplicateRequest{RequestId: id(), Original: other})
	require.NoError(t, err)
	l.twice(jar.GetSample(), "AMPHENICOLS", "0.2", "R-3")
	require.Equal(t, []string{other}, payloads[*gradingv1.ResidueSuspected](l)[1].GetSamples())
	l.twice(jar.GetSample(), "HMF", "4", "R-3")
	for _, f := range payloads[*gradingv1.ReadingRecorded](l) {
		require.NotEqual(t, jar.GetSample(), f.GetReading().GetSample())
	}
}

func TestACompositeMixesLikeWithLike(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	a, b := l.draw("7KQ2XN01"), l.draw("7KQ2XN02")
	jar, err := l.lead.CreateDuplicate(t.Context(), &gradingv1.CreateDuplicateRequest{RequestId: id(), Original: a})
	require.NoError(t, err)
	_, err = l.lead.CreateComposite(t.Context(), &gradingv1.CreateCompositeRequest{RequestId: id(), Samples: []string{a, jar.GetSample(), a}, GramsEach: "501"})
	rpctest.Faults(t, err, "grams_each", "samples[1]", "samples[2]")
	_, err = l.lead.CreateComposite(t.Context(), &gradingv1.CreateCompositeRequest{RequestId: id(), Samples: []string{a}, GramsEach: "25"})
	rpctest.Faults(t, err, "samples")
	l.read(l.tech, a, percent, "17.5", "")
	c := l.compose(a, b)
	require.Empty(t, c.GetExpectedMoisturePercent())
	_, err = l.lead.CreateComposite(t.Context(), &gradingv1.CreateCompositeRequest{RequestId: id(), Samples: []string{a, b}, GramsEach: "25"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": a, "state": "IN_COMPOSITE"})
	l.read(l.tech, b, percent, "18.2", "")
	require.Equal(t, "17.85", l.composite(c.GetName()).GetExpectedMoisturePercent())
	l.twice(c.GetSample(), "HMF", "9", "R-1")
	second := l.compose(a, b)
	list, err := l.tech.ListComposites(t.Context(), &gradingv1.ListCompositesRequest{PageSize: 1})
	require.NoError(t, err)
	require.Len(t, list.GetComposites(), 1)
	rest, err := l.tech.ListComposites(t.Context(), &gradingv1.ListCompositesRequest{PageSize: 1, PageToken: list.GetNextPageToken()})
	require.NoError(t, err)
	require.ElementsMatch(t, []string{c.GetName(), second.GetName()}, []string{list.GetComposites()[0].GetName(), rest.GetComposites()[0].GetName()})
}

func TestAFileIsKeyedAllOrNothing(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	a, b := code(t, "7KQ2XN01"), code(t, "7KQ2XN02")
	l.draw("7KQ2XN01")
	l.draw("7KQ2XN02")
	l.key(l.tech, "samples/"+a, "SUCROSE", "3", "R-9")
	imported := func(dry bool, file string) (*gradingv1.ImportOutsideResultsResponse, error) {
		return l.tech.ImportOutsideResults(t.Context(), &gradingv1.ImportOutsideResultsRequest{RequestId: id(), Content: []byte(file), DryRun: dry})
	}
	const header = "sample,analyte,value,laboratory,report\n"
	wrong := header +
		a + ",HMF,12.4,Ridge Analytical,R-9\n" +
		"8" + a[1:] + ",honey,1,Ridge Analytical,R-9\n" + // both the code and the analyte
		b + ",NITROFURANS,nothing,,R-9\n" +
		a + ",HMF,12.5,Ridge Analytical,R-9\n" +
		a + ",SUCROSE,3,Ridge Analytical,R-9\n" +
		code(t, "7KQ2XN99") + ",HMF,1,Ridge Analytical,R-9\n" +
		"too,short\n"
	looked, err := imported(true, wrong)
	require.NoError(t, err)
	var faults []string
	for _, f := range looked.GetFaults() {
		faults = append(faults, fmt.Sprintf("%d %s", f.GetRow(), f.GetField()))
	}
	require.Equal(t, []string{"3 sample", "3 analyte", "4 value", "4 laboratory", "5 ", "6 sample", "7 sample", "8 "}, faults)
	_, err = imported(false, wrong)
	rpctest.Faults(t, err, "rows[3].sample", "rows[3].analyte", "rows[4].value", "rows[4].laboratory", "rows[5]", "rows[6].sample", "rows[7].sample", "rows[8]")
	right := "\xef\xbb\xbf" + header + a + ",HMF,12.4,Ridge Analytical,R-9\nsamples/" + b + ",nitrofurans,<0.3,\"Ridge, Analytical\",R-9\n"
	looked, err = imported(true, right)
	require.NoError(t, err)
	require.Empty(t, looked.GetFaults())
	require.Equal(t, int32(2), looked.GetRowCount())
	list, err := l.tech.ListOutsideResults(t.Context(), &gradingv1.ListOutsideResultsRequest{})
	require.NoError(t, err)
	require.Len(t, list.GetResults(), 1, "a dry run and a refused file store nothing")
	done, err := imported(false, right)
	require.NoError(t, err)
	require.Len(t, done.GetResults(), 2)
	require.Equal(t, "<0.3", done.GetResults()[1].GetValue())
	_, err = l.confirm(l.second, done.GetResults()[1].GetName(), "<0.30")
	require.NoError(t, err)
	for _, file := range []string{"a,b\n", header, header + "\"unclosed"} {
		looked, err := imported(true, file)
		require.NoError(t, err)
		require.Len(t, looked.GetFaults(), 1, file)
	}
}
