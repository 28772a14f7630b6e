package rpc_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/feed"
)

// What would say whose honey a jar holds.
var secrets = []string{"5d0c1b1e-77aa-4c11-9d0e-0b4442aa4242", "M-0007", "FC-04417", "FC-2026-000118", "7c0c1b1e-77aa-4c11-9d0e-0b4442aa0118", "users/dock1"}

// Whoever judges a jar cannot find out whose it is, neither through any answer nor with the database in hand.
func TestTheLaboratoryNeverLearnsWhoseItIs(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	ticket := &intakev1.Ticket{Name: "tickets/7c0c1b1e-77aa-4c11-9d0e-0b4442aa0118", Number: "FC-2026-000118", Member: "members/M-0007", Barrels: []*intakev1.Barrel{
		{Name: barrelOf, DrumTag: "FC-04417", Member: "members/M-0007"},
	}}
	for _, payload := range []proto.Message{
		&intakev1.MemberRegistered{Member: &intakev1.Member{Name: "members/M-0007"}},
		&intakev1.TicketOpened{Ticket: ticket}, &intakev1.BarrelWeighed{Barrel: ticket.GetBarrels()[0]},
		&intakev1.TicketClosed{Ticket: ticket}, &intakev1.DrumReleased{Barrel: barrelOf},
	} {
		l.apply(feed.Event{Aggregate: ticket.GetName(), Actor: "users/dock1", RequestID: id(), OccurTime: morning, Payload: payload})
	}
	sample := l.draw("7KQ2XN4T")
	l.measure(sample, "17.4", "42", "46", "38")
	c := l.certify(sample, "")

	for _, answer := range l.everyAnswer(sample, c.GetName()) {
		for _, secret := range secrets {
			require.NotContains(t, answer, secret)
		}
	}
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

func (l *lab) everyAnswer(sample, certificate string) []string {
	l.t.Helper()
	ctx := l.t.Context()
	var out []string
	keep := func(m proto.Message, err error) {
		l.t.Helper()
		require.NoError(l.t, err)
		out = append(out, protojson.Format(m))
	}
	got, err := l.tech.GetSample(ctx, &gradingv1.GetSampleRequest{Name: sample})
	keep(got, err)
	samples, err := l.tech.ListSamples(ctx, &gradingv1.ListSamplesRequest{})
	keep(samples, err)
	one, err := l.lead.GetCertificate(ctx, &gradingv1.GetCertificateRequest{Name: certificate})
	keep(one, err)
	list, err := l.lead.ListCertificates(ctx, &gradingv1.ListCertificatesRequest{})
	keep(list, err)
	return out
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
