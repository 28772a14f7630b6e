package rpc_test

import (
	"fmt"
	"reflect"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/feed"
)

// What would say whose honey a jar holds.
var secrets = []string{"5d0c1b1e-77aa-4c11-9d0e-0b4442aa4242", "M-0007", "FC-04417", "FC-2026-000118", "7c0c1b1e-77aa-4c11-9d0e-0b4442aa0118", "users/dock1", "Wren Halloway", "M0007"}

// Whoever judges a jar cannot find out whose it is, neither through any answer nor with the database in hand.
func TestTheLaboratoryNeverLearnsWhoseItIs(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	ticket := &intakev1.Ticket{Name: "tickets/7c0c1b1e-77aa-4c11-9d0e-0b4442aa0118", Number: "FC-2026-000118", Member: "members/M-0007", Barrels: []*intakev1.Barrel{
		{Name: barrelOf, DrumTag: "FC-04417", Member: "members/M-0007"},
	}}
	for _, payload := range []proto.Message{
		&intakev1.MemberRegistered{Member: &intakev1.Member{Name: "members/M-0007", DisplayName: "Wren Halloway"}},
		&intakev1.TicketOpened{Ticket: ticket}, &intakev1.BarrelWeighed{Barrel: ticket.GetBarrels()[0]},
		&intakev1.TicketClosed{Ticket: ticket}, &intakev1.DrumReleased{Barrel: barrelOf},
	} {
		l.apply(feed.Event{Aggregate: ticket.GetName(), Actor: "users/dock1", RequestID: id(), OccurTime: morning, Payload: payload})
	}
	answers := l.everyAnswer()
	for method, answer := range answers {
		for _, secret := range secrets {
			require.NotContains(t, answer, secret, method)
		}
	}
	methods := gradingv1.File_barrelhead_grading_v1_grading_service_proto.Services().ByName("GradingService").Methods()
	for i := range methods.Len() {
		require.Contains(t, answers, string(methods.Get(i).Name()), "an answer nobody searched")
	}
	// And in the facts that neighbours and the auditor read.
	require.NotEmpty(t, l.facts())
	tables := 0
	for table, content := range l.everyTable() {
		tables++
		for _, secret := range secrets {
			require.NotContains(t, content, secret, table)
			require.NotContains(t, content, fmt.Sprintf("%x", secret), "%s, as bytes", table)
		}
	}
	require.Greater(t, tables, 5)
}

// everyAnswer calls every method there is with requests that succeed on the data of one season, and returns the answers by
// method. A request not made up here fails the test, so that a new method is searched too.
func (l *lab) everyAnswer() map[string]string {
	l.t.Helper()
	sample, other := l.draw("7KQ2XN4T"), l.draw("7KQ2XN02")
	third, fourth := l.draw("7KQ2XN03"), l.draw("7KQ2XN05")
	out := map[string]string{}
	call := func(who gradingv1.GradingServiceClient, method string, req proto.Message) proto.Message {
		l.t.Helper()
		if f := req.ProtoReflect().Descriptor().Fields().ByName("request_id"); f != nil {
			req.ProtoReflect().Set(f, protoreflect.ValueOfString(id()))
		}
		results := reflect.ValueOf(who).MethodByName(method).Call([]reflect.Value{reflect.ValueOf(l.t.Context()), reflect.ValueOf(req)})
		require.Nil(l.t, results[1].Interface(), method)
		answer, ok := results[0].Interface().(proto.Message)
		require.True(l.t, ok, method)
		out[method] += protojson.Format(answer)
		return answer
	}
	l.everyLabAnswer(call, sample, other)
	l.everyResidueAnswer(call, third, fourth)
	for method, req := range map[string]proto.Message{
		"ListSamples": &gradingv1.ListSamplesRequest{}, "ListCertificates": &gradingv1.ListCertificatesRequest{}, "ListStandards": &gradingv1.ListStandardsRequest{},
		"ListDuplicates": &gradingv1.ListDuplicatesRequest{}, "ListAppeals": &gradingv1.ListAppealsRequest{}, "ListControls": &gradingv1.ListControlsRequest{},
		"ListSigningKeys": &gradingv1.ListSigningKeysRequest{}, "CheckCertificates": &gradingv1.CheckCertificatesRequest{}, "ListAnalytes": &gradingv1.ListAnalytesRequest{},
		"ListComposites": &gradingv1.ListCompositesRequest{}, "ListOutsideResults": &gradingv1.ListOutsideResultsRequest{}, "ReportBias": &gradingv1.ReportBiasRequest{},
		"GetSample": &gradingv1.GetSampleRequest{Name: sample}, "ListControlRuns": &gradingv1.ListControlRunsRequest{Control: "controls/CH-1"},
		"Evaluate":         &gradingv1.EvaluateRequest{Standard: "standards/us-extracted-1985", MoisturePercent: "17.4", FloralSource: "clover"},
		"CompareStandards": &gradingv1.CompareStandardsRequest{MoisturePercent: "17.4"}, "DeriveFacts": &gradingv1.DeriveFactsRequest{MoisturePercent: "17.4"},
		"JudgeLot": &gradingv1.JudgeLotRequest{SampleSize: 13}, "JudgeOriginShare": &gradingv1.JudgeOriginShareRequest{TracedPercent: "50", PrintedPercent: "50"},
	} {
		call(l.lead, method, req)
	}
	call(l.lead, "ListViews", &gradingv1.ListViewsRequest{})
	return out
}

type caller func(who gradingv1.GradingServiceClient, method string, req proto.Message) proto.Message

func named(m proto.Message) string {
	return m.ProtoReflect().Get(m.ProtoReflect().Descriptor().Fields().ByName("name")).String()
}

// everyLabAnswer works samples from the bench to a decided appeal, with a control that fails on the way.
func (l *lab) everyLabAnswer(call caller, sample, other string) {
	office := l.as("office1", accessv1.Role_ROLE_OFFICE)
	for kind, raw := range map[gradingv1.ReadingKind]string{percent: "18.5", gradingv1.ReadingKind_READING_KIND_PFUND_MM: "42", gradingv1.ReadingKind_READING_KIND_FLAVOR: "46", gradingv1.ReadingKind_READING_KIND_DEFECTS: "38"} {
		call(l.tech, "RecordReading", &gradingv1.RecordReadingRequest{Sample: sample, Kind: kind, RawValue: raw})
	}
	call(l.tech, "RecordRereads", &gradingv1.RecordRereadsRequest{Sample: sample, Kind: percent, RawValues: []string{"18.5", "18.4"}})
	call(l.lead, "CreateDuplicate", &gradingv1.CreateDuplicateRequest{Original: other})
	c := named(call(l.lead, "IssueCertificate", &gradingv1.IssueCertificateRequest{Sample: sample}))
	call(office, "GetCertificate", &gradingv1.GetCertificateRequest{Name: c})
	call(l.stranger(), "VerifyCertificate", &gradingv1.VerifyCertificateRequest{Name: c})
	appeal := named(call(office, "OpenAppeal", &gradingv1.OpenAppealRequest{
		Certificate: c, Factor: gradingv1.Factor_FACTOR_MOISTURE, Stage: gradingv1.AppealStage_APPEAL_STAGE_RETEST, Reason: "reads dry at home",
	}))
	call(l.second, "RecordAppealReading", &gradingv1.RecordAppealReadingRequest{Appeal: appeal, Kind: percent, RawValue: "17.4"})
	call(l.lead, "DecideAppeal", &gradingv1.DecideAppealRequest{Appeal: appeal})
	call(office, "GetAppeal", &gradingv1.GetAppealRequest{Name: appeal})
	control := &gradingv1.CreateControlRequest{ControlId: "CH-1", Factor: gradingv1.Factor_FACTOR_MOISTURE, Material: "control honey", Target: "17.5", Sigma: "0.1", RunCount: 20}
	call(l.lead, "CreateControl", control)
	l.read(l.tech, other, percent, "17.4", "")
	failed := call(l.second, "RecordControlRun", &gradingv1.RecordControlRunRequest{Control: "controls/CH-1", Kind: percent, RawValue: "17.9"})
	call(l.lead, "ConfirmResults", &gradingv1.ConfirmResultsRequest{ControlRun: named(failed), Reason: "the jar was spoiled"})
	call(l.second, "RecordControlRun", &gradingv1.RecordControlRunRequest{Control: "controls/CH-1", Kind: percent, RawValue: "17.5"})
	call(l.lead, "RetireControl", &gradingv1.RetireControlRequest{Control: "controls/CH-1", Reason: "spoiled"})
}

// everyResidueAnswer follows a residue from a composite to the disposal of one sample.
func (l *lab) everyResidueAnswer(call caller, first, second string) {
	composite := call(l.lead, "CreateComposite", &gradingv1.CreateCompositeRequest{Samples: []string{first, second}, GramsEach: "25"})
	call(l.tech, "GetComposite", &gradingv1.GetCompositeRequest{Name: named(composite)})
	mixed, ok := composite.(*gradingv1.Composite)
	require.True(l.t, ok)
	for _, jar := range []string{mixed.GetSample(), first} {
		key := &gradingv1.KeyOutsideResultRequest{Sample: jar, Analyte: "NITROFURANS", Value: "0.3", Laboratory: "Ridge Analytical", Report: "R-1"}
		call(l.second, "ConfirmOutsideResult", &gradingv1.ConfirmOutsideResultRequest{Name: named(call(l.tech, "KeyOutsideResult", key)), Value: "0.3"})
	}
	call(l.lead, "DisposeSample", &gradingv1.DisposeSampleRequest{Sample: first, Disposition: gradingv1.Disposition_DISPOSITION_RETURN, Reason: "asked for"})
	wrong := call(l.tech, "KeyOutsideResult", &gradingv1.KeyOutsideResultRequest{Sample: second, Analyte: "HMF", Value: "3", Laboratory: "Ridge Analytical", Report: "R-1"})
	call(l.tech, "WithdrawOutsideResult", &gradingv1.WithdrawOutsideResultRequest{Name: named(wrong), Reason: "another jar"})
	file := "sample,analyte,value,laboratory,report\n" + second + ",HMF,12.4,Ridge Analytical,R-1\n"
	call(l.tech, "ImportOutsideResults", &gradingv1.ImportOutsideResultsRequest{Content: []byte(file)})
}

// everyTable is the whole content of the schema as text, by table.
func (l *lab) everyTable() map[string]string {
	l.t.Helper()
	ctx := l.t.Context()
	rows, err := l.db.Pool().Query(ctx, `SELECT tablename FROM pg_tables WHERE schemaname = 'grading' ORDER BY tablename`)
	require.NoError(l.t, err)
	names, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(l.t, err)
	content := map[string]string{}
	for _, name := range names {
		rows, err := l.db.Pool().Query(ctx, `SELECT t::text FROM `+pgx.Identifier{name}.Sanitize()+` t`)
		require.NoError(l.t, err)
		lines, err := pgx.CollectRows(rows, pgx.RowTo[string])
		require.NoError(l.t, err)
		content[name] = strings.Join(lines, "\n")
	}
	return content
}
