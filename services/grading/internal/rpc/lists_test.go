package rpc_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/rpctest"
)

func TestAccessMatrix(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	rpctest.Matrix(t, l.server.Gateway(), gradingv1.GradingService_ServiceDesc.ServiceName)
}

func TestBenchListIsOldestFirstInPages(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	var drawn []string
	for i := range 5 {
		drawn = append(drawn, l.draw(fmt.Sprintf("7KQ2XN%02d", i)))
	}
	l.measure(drawn[1], "17.4", "42", "46", "38")
	l.measure(drawn[3], "17.4", "42", "46", "38")
	l.certify(drawn[3], "")
	var got []string
	req := &gradingv1.ListSamplesRequest{PageSize: 2}
	for {
		page, err := l.tech.ListSamples(t.Context(), req)
		require.NoError(t, err)
		for _, s := range page.GetSamples() {
			got = append(got, s.GetName())
		}
		if req.PageToken = page.GetNextPageToken(); req.GetPageToken() == "" {
			break
		}
		require.Len(t, page.GetSamples(), 2)
	}
	require.Equal(t, drawn, got)
	for state, want := range map[gradingv1.SampleState][]string{
		gradingv1.SampleState_SAMPLE_STATE_WAITING:   {drawn[0], drawn[2], drawn[4]},
		gradingv1.SampleState_SAMPLE_STATE_MEASURED:  {drawn[1]},
		gradingv1.SampleState_SAMPLE_STATE_CERTIFIED: {drawn[3]},
	} {
		page, err := l.tech.ListSamples(t.Context(), &gradingv1.ListSamplesRequest{State: state})
		require.NoError(t, err)
		var names []string
		for _, s := range page.GetSamples() {
			require.Equal(t, state, s.GetState())
			names = append(names, s.GetName())
		}
		require.Equal(t, want, names)
	}
	first, err := l.tech.ListSamples(t.Context(), &gradingv1.ListSamplesRequest{PageSize: 2})
	require.NoError(t, err)
	_, err = l.tech.ListSamples(t.Context(), &gradingv1.ListSamplesRequest{
		PageToken: first.GetNextPageToken(), State: gradingv1.SampleState_SAMPLE_STATE_WAITING,
	})
	rpctest.Faults(t, err, "page_token")
	_, err = l.tech.ListSamples(t.Context(), &gradingv1.ListSamplesRequest{PageSize: -1})
	rpctest.Faults(t, err, "page_size")
}

func TestCertificatesInPages(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	for i := range 3 {
		sample := l.draw(fmt.Sprintf("7KQ2XN%02d", i))
		l.measure(sample, "17.4", "42", "46", "38")
		l.certify(sample, "")
	}
	first, err := l.lead.ListCertificates(t.Context(), &gradingv1.ListCertificatesRequest{PageSize: 2})
	require.NoError(t, err)
	require.Len(t, first.GetCertificates(), 2)
	require.Equal(t, "G-2026-000003", first.GetCertificates()[0].GetNumber())
	rest, err := l.lead.ListCertificates(t.Context(), &gradingv1.ListCertificatesRequest{PageSize: 2, PageToken: first.GetNextPageToken()})
	require.NoError(t, err)
	require.Empty(t, rest.GetNextPageToken())
	require.Equal(t, "G-2026-000001", rest.GetCertificates()[0].GetNumber())
}

func TestAnybodyMayAskAStandard(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	member := gradingv1.NewGradingServiceClient(l.server.As(rpctest.Member("M-0007")))
	d, err := member.Evaluate(t.Context(), &gradingv1.EvaluateRequest{Standard: "standards/us-extracted-1985", MoisturePercent: "17.8"})
	require.NoError(t, err)
	require.Equal(t, "A", d.GetGrade())
	require.Equal(t, "17.8 % water is within the limit of at most 18.6 % for grade A, so the sample is grade A. "+
		"Not judged: flavour and absence of defects, so grade A is the best it can be.", d.GetExplanation())
	_, err = member.Evaluate(t.Context(), &gradingv1.EvaluateRequest{Standard: "standards/none", MoisturePercent: "17.8"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "standards/none"})
	_, err = member.Evaluate(t.Context(), &gradingv1.EvaluateRequest{
		Standard: "standards/us-extracted-1985", MoisturePercent: "1.79", Flavor: "51", PfundMm: "pale",
	})
	rpctest.Faults(t, err, "moisture_percent", "flavor", "pfund_mm")
	_, err = member.Evaluate(t.Context(), &gradingv1.EvaluateRequest{Standard: "standards/us-extracted-1985"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_FIELD_INVALID, nil)
	require.Empty(t, l.facts(), "a question changes nothing")
}

func TestStandardsShowTheirSources(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	office := l.as("office1", accessv1.Role_ROLE_OFFICE)
	list, err := office.ListStandards(t.Context(), &gradingv1.ListStandardsRequest{})
	require.NoError(t, err)
	require.Len(t, list.GetStandards(), len(domain.Published().All()))
	for _, s := range list.GetStandards() {
		require.NotEmpty(t, s.GetLimits())
		for _, limit := range s.GetLimits() {
			require.NotEmpty(t, limit.GetSource(), "%s %s", s.GetName(), limit.GetLimit())
			require.NotEmpty(t, limit.GetProvenance(), "%s %s", s.GetName(), limit.GetLimit())
		}
	}
}

func TestOneQuestionToEveryStandard(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	office := l.as("office1", accessv1.Role_ROLE_OFFICE)
	all, err := office.CompareStandards(t.Context(), &gradingv1.CompareStandardsRequest{
		MoisturePercent: "18.0", PfundMm: "42", Flavor: "46", Defects: "38", Claims: []gradingv1.Claim{gradingv1.Claim_CLAIM_PASTEURIZED},
	})
	require.NoError(t, err)
	require.Contains(t, all.GetSummary(), "Canada No. 1, ")
	require.Contains(t, all.GetSummary(), "US grade A")
	require.Len(t, all.GetDecisions(), 8)
	baker, err := office.Evaluate(t.Context(), &gradingv1.EvaluateRequest{
		Standard: "standards/eu-honey-2001", MoisturePercent: "24.5", FloralSource: "Heather", Claims: []gradingv1.Claim{gradingv1.Claim_CLAIM_BAKERS},
	})
	require.NoError(t, err)
	require.Equal(t, "LEGAL", baker.GetGrade())
	require.Equal(t, "EU legal", baker.GetSummary())
	require.Contains(t, baker.GetNotJudged(), gradingv1.Factor_FACTOR_HMF)
	_, err = office.CompareStandards(t.Context(), &gradingv1.CompareStandardsRequest{})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_FIELD_INVALID, nil)
	_, err = office.CompareStandards(t.Context(), &gradingv1.CompareStandardsRequest{
		MoisturePercent: "18", HmfMgPerKg: "-1", Claims: []gradingv1.Claim{9},
	})
	rpctest.Faults(t, err, "claims[0]")
}

func TestEveryClaimHasItsWireName(t *testing.T) {
	t.Parallel()
	require.Len(t, gradingv1.Claim_name, len(domain.Claims())+1)
	for _, c := range domain.Claims() {
		require.Contains(t, gradingv1.Claim_value, "CLAIM_"+string(c))
	}
}

func TestWhatFollowsFromAComposition(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	member := gradingv1.NewGradingServiceClient(l.server.As(rpctest.Member("M-0007")))
	answer, err := member.DeriveFacts(t.Context(), &gradingv1.DeriveFactsRequest{
		MoisturePercent: "18.5", YeastPerG: "11", GlucosePercent: "31", FructosePercent: "38",
	})
	require.NoError(t, err)
	values := map[string]string{}
	for _, f := range answer.GetFacts() {
		require.NotEmpty(t, f.GetSource())
		require.NotEmpty(t, f.GetValidity())
		values[f.GetId()] = f.GetValue()
	}
	require.Equal(t, map[string]string{
		"soluble_solids": "81.5 %", "density": "11.776 lb/gal", "fermentation": "AT_RISK", "granulation": "STAYS_LIQUID",
		"granulation_by_fructose": "UNCERTAIN",
	}, values)
	_, err = member.DeriveFacts(t.Context(), &gradingv1.DeriveFactsRequest{YeastPerG: "many"})
	rpctest.Faults(t, err, "moisture_percent", "yeast_per_g")
}

func TestALotIsJudgedByThePublishedPlans(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	v, err := l.tech.JudgeLot(t.Context(), &gradingv1.JudgeLotRequest{SampleSize: 13, DeviantCount: 2})
	require.NoError(t, err)
	require.True(t, v.GetAccepted())
	require.Equal(t, int32(2), v.GetAcceptanceNumber())
	_, err = l.tech.JudgeLot(t.Context(), &gradingv1.JudgeLotRequest{SampleSize: 12, DeviantCount: 13})
	rpctest.Faults(t, err, "sample_size", "deviant_count")
}
