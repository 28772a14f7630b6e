package e2e

import (
	"bytes"
	_ "embed"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"barrelhead.example/deploy/season"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/pgtest"
)

//go:embed recompute.sql
var recomputation string

// TestSeasonRecomputed works a season with a shared load, replaced certificates and a ticket under a wrong
// member, and closes one pool of it all. What anybody may see of it is exported by the public API to CSV files, loaded
// into a bare database, and computed again in SQL. Every member's total must agree to the cent.
func TestSeasonRecomputed(t *testing.T) {
	t.Parallel()
	w := newWorld(t, season.Size{Members: 12, Barrels: 60})
	require.NoError(t, w.crew.Work(t.Context(), w.client, "admin", season.Password))
	settled(t, w.crew)
	pool := closeEverything(t, w)
	e := &export{t: t, dir: t.TempDir(), office: w.crew.Session("office")}
	e.deliveries()
	e.laboratory()
	e.prices(pool)
	want := map[string][3]string{}
	for _, m := range e.totals() {
		if m.GetPricedBarrels() > 0 {
			want[m.GetMember()] = [3]string{m.GetGrossAmount().GetAmount(), m.GetDeductions().GetAmount(), m.GetNetAmount().GetAmount()}
		}
	}
	require.Equal(t, want, recompute(t, e.dir))
}

// closeEverything closes a pool of all honey of the year.
func closeEverything(t *testing.T, w *world) *settlementv1.Pool {
	t.Helper()
	var pool settlementv1.Pool
	p := tablePool(w.year)
	p.Title = "All honey"
	office := w.crew.Session("office")
	require.NoError(t, office.Post(t.Context(), "/v1/pools", &settlementv1.OpenPoolRequest{RequestId: season.RequestID("pool"), Pool: p}, &pool))
	for kind, cents := range map[settlementv1.PoolEntryKind]int64{
		settlementv1.PoolEntryKind_POOL_ENTRY_KIND_PROCEEDS: 70_000_01, settlementv1.PoolEntryKind_POOL_ENTRY_KIND_EXPENSE: 9_999_96,
	} {
		require.NoError(t, office.Post(t.Context(), "/v1/"+pool.GetName()+"/entries", &settlementv1.RecordPoolEntryRequest{
			RequestId: season.RequestID(kind), Pool: pool.GetName(),
			Entry: &settlementv1.PoolEntry{Kind: kind, Amount: usd(cents), Description: "The whole season", Document: "Journal", EntryDate: fmt.Sprintf("%d-12-15", w.year)},
		}, &settlementv1.PoolEntry{}))
	}
	var run settlementv1.Run
	require.NoError(t, office.Post(t.Context(), "/v1/"+pool.GetName()+"/runs", &settlementv1.PrepareRunRequest{RequestId: season.RequestID("run"), Pool: pool.GetName()}, &run))
	require.NoError(t, w.crew.Session("board").Post(t.Context(), "/v1/"+run.GetName()+":approve", &settlementv1.ApproveRunRequest{
		RequestId: season.RequestID("approve"), Name: run.GetName(), Fingerprint: run.GetFingerprint(), Minutes: "Board, resolution 9",
	}, &run))
	require.NoError(t, w.crew.Session("treasurer").Post(t.Context(), "/v1/"+run.GetName()+":release", &settlementv1.ReleaseRunRequest{
		RequestId: season.RequestID("release"), Name: run.GetName(), Fingerprint: run.GetFingerprint(),
	}, &run))
	return &pool
}

// export writes what the API shows into CSV files.
type export struct {
	t      *testing.T
	dir    string
	office *season.Session
}

// write makes one file. Its first row names the columns.
func (e *export) write(table string, rows ...[]string) {
	e.t.Helper()
	var text bytes.Buffer
	require.NoError(e.t, csv.NewWriter(&text).WriteAll(rows))
	require.NoError(e.t, os.WriteFile(filepath.Join(e.dir, table+".csv"), text.Bytes(), 0o600))
}

func (e *export) deliveries() {
	e.t.Helper()
	var list intakev1.ListTicketsResponse
	require.NoError(e.t, e.office.Get(e.t.Context(), "/v1/tickets?page_size=1000", &list))
	tickets, lines, owners := [][]string{{"ticket", "member", "state"}}, [][]string{{"ticket", "barrel", "sample", "variety", "net"}}, [][]string{{"ticket", "member", "share"}}
	for _, listed := range list.GetTickets() {
		var ticket intakev1.Ticket
		require.NoError(e.t, e.office.Get(e.t.Context(), "/v1/"+listed.GetName(), &ticket))
		tickets = append(tickets, []string{ticket.GetName(), ticket.GetMember(), ticket.GetState().String()})
		for _, b := range ticket.GetBarrels() {
			lines = append(lines, []string{ticket.GetName(), b.GetName(), b.GetSample(), b.GetVariety(), b.GetNet().GetValue()})
		}
		for _, o := range ticket.GetOwners() {
			owners = append(owners, []string{ticket.GetName(), o.GetMember(), o.GetSharePercent()})
		}
		if len(ticket.GetOwners()) == 0 {
			owners = append(owners, []string{ticket.GetName(), ticket.GetMember(), "100"})
		}
	}
	e.write("ticket", tickets...)
	e.write("line", lines...)
	e.write("owner", owners...)
}

func (e *export) laboratory() {
	e.t.Helper()
	var list gradingv1.ListCertificatesResponse
	require.NoError(e.t, e.office.Get(e.t.Context(), "/v1/certificates?page_size=1000", &list))
	rows := [][]string{{"certificate", "sample", "superseded_by", "grade", "color", "moisture"}}
	for _, c := range list.GetCertificates() {
		d := c.GetDecision()
		rows = append(rows, []string{c.GetName(), c.GetSample(), c.GetSupersededBy(), d.GetGrade(), d.GetColorClass(), d.GetMoisturePercent()})
	}
	e.write("certificate", rows...)
}

func (e *export) prices(pool *settlementv1.Pool) {
	e.t.Helper()
	var schedules settlementv1.ListSchedulesResponse
	require.NoError(e.t, e.office.Get(e.t.Context(), "/v1/schedules", &schedules))
	require.Len(e.t, schedules.GetSchedules(), 1)
	s := schedules.GetSchedules()[0]
	e.write("rule", []string{"base", "step"}, []string{s.GetMoistureRule().GetBasePercent(), s.GetMoistureRule().GetStepPerTenth().GetAmount()})
	rows := [][]string{{"variety", "color", "grade", "amount"}}
	for _, r := range s.GetRows() {
		rows = append(rows, []string{r.GetVariety(), r.GetColorClass(), r.GetGrade(), r.GetAdvance().GetAmount()})
	}
	e.write("price", rows...)
	classes := [][]string{{"variety", "color", "grade", "amount"}}
	for _, d := range pool.GetDifferentials() {
		classes = append(classes, []string{d.GetVariety(), d.GetColorClass(), d.GetGrade(), d.GetAmount().GetAmount()})
	}
	e.write("class", classes...)
	deductions := [][]string{{"code", "basis", "rate", "amount"}}
	for _, d := range s.GetDeductions() {
		deductions = append(deductions, []string{d.GetCode(), d.GetBasis().String(), d.GetRate().GetAmount(), d.GetAmount().GetAmount()})
	}
	e.write("deduction", deductions...)
	var entries settlementv1.ListPoolEntriesResponse
	require.NoError(e.t, e.office.Get(e.t.Context(), "/v1/"+pool.GetName()+"/entries", &entries))
	account := [][]string{{"amount"}}
	for _, x := range entries.GetEntries() {
		sign := map[settlementv1.PoolEntryKind]string{settlementv1.PoolEntryKind_POOL_ENTRY_KIND_EXPENSE: "-"}[x.GetKind()]
		account = append(account, []string{sign + x.GetAmount().GetAmount()})
	}
	e.write("entry", account...)
	var unpriced settlementv1.ListUnpricedResponse
	require.NoError(e.t, e.office.Get(e.t.Context(), "/v1/unpriced?page_size=1000", &unpriced))
	waiting := [][]string{{"barrel"}}
	for _, u := range unpriced.GetUnpriced() {
		waiting = append(waiting, []string{u.GetBarrel()})
	}
	e.write("unpriced", waiting...)
}

func (e *export) totals() []*settlementv1.MemberTotal {
	e.t.Helper()
	var list settlementv1.ListMemberTotalsResponse
	require.NoError(e.t, e.office.Get(e.t.Context(), "/v1/memberTotals?page_size=1000", &list))
	return list.GetMemberTotals()
}

// scratch are the tables the files are loaded into.
const scratch = `CREATE TABLE ticket (ticket text, member text, state text); CREATE TABLE line (ticket text, barrel text, sample text, variety text, net numeric);
CREATE TABLE owner (ticket text, member text, share numeric); CREATE TABLE unpriced (barrel text);
CREATE TABLE certificate (certificate text, sample text, superseded_by text NOT NULL, grade text, color text, moisture numeric);
CREATE TABLE rule (base numeric, step numeric);
CREATE TABLE price (variety text NOT NULL, color text, grade text, amount numeric); CREATE TABLE class (LIKE price); CREATE TABLE entry (amount numeric);
CREATE TABLE deduction (code text, basis text, rate numeric, amount numeric);`

// recompute loads the files by COPY and asks for every member's gross amount, deductions and net amount.
func recompute(t *testing.T, dir string) map[string][3]string {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), pgtest.Empty(t))
	require.NoError(t, err)
	defer func() { require.NoError(t, conn.Close(t.Context())) }()
	_, err = conn.Exec(t.Context(), scratch)
	require.NoError(t, err)
	files, err := filepath.Glob(filepath.Join(dir, "*.csv"))
	require.NoError(t, err)
	for _, file := range files {
		table := filepath.Base(file[:len(file)-len(".csv")])
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		notNull := map[string]string{"certificate": ", FORCE_NOT_NULL (superseded_by)", "price": ", FORCE_NOT_NULL (variety)", "class": ", FORCE_NOT_NULL (variety)"}[table]
		_, err = conn.PgConn().CopyFrom(t.Context(), bytes.NewReader(text), "COPY "+table+" FROM STDIN (FORMAT csv, HEADER match"+notNull+")")
		require.NoError(t, err, "%s", table)
	}
	rows, err := conn.Query(t.Context(), recomputation)
	require.NoError(t, err)
	got := map[string][3]string{}
	var member string
	var sums [3]string
	var docked, shared, replaced int
	_, err = pgx.ForEachRow(rows, []any{&member, &sums[0], &sums[1], &sums[2], &docked, &shared, &replaced}, func() error {
		got[member] = sums
		return nil
	})
	require.NoError(t, err)
	require.Positive(t, docked, "no barrel of the season was above the base, so the rule was not tried")
	require.Greater(t, shared, 1, "no load of the season had several owners, so their parts were not tried")
	require.Positive(t, replaced, "no certificate of the season was replaced")
	return got
}
