package e2e

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"barrelhead.example/deploy/season"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/pgtest"
	"barrelhead.example/services/kit/rpcdial"
	"barrelhead.example/services/settlement"
)

// settleKills is how often the settlement process is killed on the way from a pool to the bank's file.
const settleKills = 50

// TestSettlementIsKilled prices a season, closes its pools and pays its members, twice: once in peace, and once while the
// settlement process is killed fifty times, at random moments of every step and while its call is under way. The client only
// sends again, under the same request_id, what was not answered. Remittances, journal and balances are the same at the end:
// no payment is lost and none made twice.
func TestSettlementIsKilled(t *testing.T) {
	t.Parallel()
	binaries := filepath.Join(t.TempDir(), "bin")
	var usual []time.Duration
	var want moneyBooks
	t.Run("in peace", func(t *testing.T) { //nolint:paralleltest // the other follows it
		o := openOffice(t, binaries)
		o.settle()
		usual, want = o.took, o.books()
		require.NotEmpty(t, want.Remittances)
	})
	t.Run("killed", func(t *testing.T) { //nolint:paralleltest // it follows the other
		o := openOffice(t, binaries)
		k := &killer{office: o, usual: usual, random: rand.New(rand.NewPCG(600, uint64(os.Getpid())))}
		o.during = k.during
		o.settle()
		require.Equal(t, settleKills, k.kills)
		t.Logf("%d kills in %d steps, %d of them during the call", k.kills, len(usual), k.felt)
		require.Greater(t, k.felt, settleKills/4, "most kills came when nothing was under way")
		require.Equal(t, want, o.books())
		// All of it sent once more, as by a client that never saw an answer, changes nothing.
		o.during = nil
		o.settle()
		require.Equal(t, want, o.books())
	})
}

// office is a settlement process on a database of its own, and a client that takes the pools of a season from their opening
// to the bank's file.
type office struct {
	t         *testing.T
	processes *processes
	client    settlementv1.SettlementServiceClient
	// during does a step; nil does it in peace.
	during func(work func() error)
	took   []time.Duration
}

const settledYear = 2026

// openOffice starts the program with a season in its read tables, as the neighbours' feeds leave it.
func openOffice(t *testing.T, binaries string) *office {
	t.Helper()
	p := &processes{dir: t.TempDir(), binaries: binaries, running: map[string]*exec.Cmd{}, killed: map[string]int{}}
	args := []string{"build", "-o", binaries + "/"}
	if raceFlag != "" {
		args = append(args, raceFlag)
	}
	out, err := exec.CommandContext(t.Context(), "go", append(args, "barrelhead.example/services/settlement/cmd/settlement")...).CombinedOutput()
	require.NoError(t, err, "%s", out)
	p.configure(t, map[string]string{"settlement": pgtest.URL(t, "settlement")})
	key := filepath.Join(p.dir, "accounts.key")
	require.NoError(t, os.WriteFile(key, []byte(strings.Repeat("5e", 32)+"\n"), 0o600))
	text, err := json.Marshal(settlement.Config{Service: p.settings["settlement"], House: settlement.House{Bank: valleyBank}, AccountKeyFiles: []string{key}})
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(p.config("settlement"), text, 0o600))
	for _, sql := range seasonOf60 {
		pgtest.Exec(t, "settlement", sql)
	}
	p.start(t, "settlement")
	t.Cleanup(p.stop)
	conn, err := rpcdial.Dial(t.Context(), p.settings["gateway"], "settlement")
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, conn.Close()) })
	return &office{t: t, processes: p, client: settlementv1.NewSettlementServiceClient(conn)}
}

// seasonOf60 is 60 certified barrels of twelve members, every tenth shared by two. Nothing in it is left to chance.
var seasonOf60 = []string{
	`INSERT INTO intake_member SELECT 'members/M-' || to_char(n, 'FM0000'), 'Member ' || n FROM generate_series(1, 12) n`,
	`INSERT INTO intake_barrel (barrel, ticket, ticket_number, member, drum_tag, variety, net, crop_year, delivery_date, counts, owners, shares)
		SELECT md5('barrel ' || n)::uuid, md5('ticket ' || n)::uuid, 'FC-2026-' || to_char(n, 'FM000000'), 'members/M-' || to_char(1 + n % 12, 'FM0000'), 'FC-' || n,
			(ARRAY['clover','basswood','goldenrod','knapweed','wildflower'])[1 + n % 5], 600000 + 500 * (n * 37 % 101), 2026, '2026-09-14', true,
			CASE WHEN n % 10 = 0 THEN ARRAY['members/M-0003','members/M-0009'] ELSE '{}' END, CASE WHEN n % 10 = 0 THEN ARRAY[333333, 666667] ELSE '{}' END
		FROM generate_series(1, 60) n`,
	`INSERT INTO intake_sample SELECT 'samples/' || drum_tag, barrel FROM intake_barrel`,
	`INSERT INTO grading_certificate SELECT md5('certificate ' || drum_tag)::uuid, 'samples/' || drum_tag, 'G-' || drum_tag, 'A',
		(ARRAY['WHITE','LIGHT_AMBER','AMBER'])[1 + net / 500 % 3], 1600 + 10 * (net / 500 % 40), '{}', '2026-09-16', '', NULL FROM intake_barrel`,
}

// killer kills the settlement process while a step is under way, in turn with what the client does about it.
type killer struct {
	*office
	usual  []time.Duration
	random *rand.Rand
	step   int
	kills  int
	felt   int
}

// during works while the process is killed. The moments are spread evenly over one and a half times what the step takes in
// peace, so that some come before it, most in it, and some between its commit and its answer or after.
func (k *killer) during(work func() error) {
	due := settleKills*(k.step+1)/len(k.usual) - k.kills
	usual := k.usual[k.step]
	k.step++
	done := make(chan error, 1)
	go func() { done <- work() }()
	var err error
	under := true
	for range due {
		wait := time.NewTimer(time.Duration(k.random.Int64N(int64(usual)*3/2 + 1)))
		select {
		case <-wait.C:
		case err = <-done:
			under = false
			<-wait.C
		}
		if under {
			k.felt++
		}
		k.processes.kill(k.t, "settlement")
		k.kills++
	}
	if under {
		err = <-done
	}
	require.NoError(k.t, err)
}

// ask sends a request until it is answered, as the person of a role.
func ask[Q, R any](o *office, role accessv1.Role, rpc func(context.Context, Q, ...grpc.CallOption) (R, error), req Q) R {
	o.t.Helper()
	ctx := access.Outgoing(o.t.Context(), access.Actor{Login: "users/" + strings.ToLower(role.String()), Roles: []accessv1.Role{role}})
	var answer R
	work := func() (err error) {
		for end := time.Now().Add(patience); ; time.Sleep(20 * time.Millisecond) { //nolint:forbidigo // a client that tries again
			answer, err = rpc(ctx, req)
			if status.Code(err) != codes.Unavailable || time.Now().After(end) {
				return err
			}
		}
	}
	if o.during != nil {
		o.during(work)
		return answer
	}
	began := time.Now()
	require.NoError(o.t, work())
	o.took = append(o.took, time.Since(began))
	return answer
}

const (
	keeper    = accessv1.Role_ROLE_OFFICE
	director  = accessv1.Role_ROLE_BOARD
	treasurer = accessv1.Role_ROLE_TREASURER
)

func (o *office) settle() {
	o.t.Helper()
	calm := *o
	calm.during = nil
	schedule := ask(&calm, keeper, o.client.CreateSchedule, &settlementv1.CreateScheduleRequest{RequestId: season.RequestID("schedule"), Schedule: season.Schedule(settledYear)})
	ask(o, director, o.client.AdoptSchedule, &settlementv1.AdoptScheduleRequest{RequestId: season.RequestID("adopt"), Name: schedule.GetName(), Resolution: "Board, resolution 3"})
	// Accounts are entered in peace: they are no part of the way of the money.
	calm.accounts()
	for i, variety := range []string{"clover", "basswood", "goldenrod", "knapweed", "wildflower"} {
		o.close(variety, 150+10*int64(i))
		o.pay(variety)
	}
}

// accounts gives every payee one, a lender too.
func (o *office) accounts() {
	o.t.Helper()
	lien := ask(o, keeper, o.client.RegisterEncumbrance, &settlementv1.RegisterEncumbranceRequest{RequestId: season.RequestID("lien"), Encumbrance: &settlementv1.Encumbrance{
		Member: "members/M-0003", Kind: settlementv1.EncumbranceKind_ENCUMBRANCE_KIND_LIEN, Creditor: "Valley Farm Credit", Percent: "40",
		Document: "Notice of 2 July", ReceiveDate: "2026-07-02",
	}})
	payees := []string{lien.GetName()}
	for n := range 12 {
		payees = append(payees, fmt.Sprintf("members/M-%04d", n+1))
	}
	for i, payee := range payees {
		account := ask(o, keeper, o.client.EnterPayeeAccount, &settlementv1.EnterPayeeAccountRequest{
			RequestId: season.RequestID("account", i), PayeeAccount: &settlementv1.PayeeAccount{
				Payee: payee, Holder: "Holder " + strconv.Itoa(i), RoutingNumber: "111000025", AccountNumber: "0123456789",
			},
		})
		ask(o, treasurer, o.client.VerifyPayeeAccount, &settlementv1.VerifyPayeeAccountRequest{
			RequestId: season.RequestID("verify", i), Name: account.GetName(), Verification: "called the number on the agreement",
		})
	}
}

// close sells a pool's honey for so many cents a pound, and closes it.
func (o *office) close(variety string, cents int64) {
	o.t.Helper()
	p := tablePool(settledYear)
	p.Title, p.Varieties = "Honey of "+variety, []string{variety}
	made := ask(o, keeper, o.client.OpenPool, &settlementv1.OpenPoolRequest{RequestId: season.RequestID("pool", variety), Pool: p})
	ask(o, keeper, o.client.RecordPoolEntry, &settlementv1.RecordPoolEntryRequest{
		RequestId: season.RequestID("sales", variety), Pool: made.GetName(), Entry: &settlementv1.PoolEntry{
			Kind: settlementv1.PoolEntryKind_POOL_ENTRY_KIND_PROCEEDS, Amount: usd(7500 * cents), Description: "Sales of the season",
			Document: "Invoices 1 to 12", EntryDate: "2026-12-15",
		},
	})
	run := ask(o, keeper, o.client.PrepareRun, &settlementv1.PrepareRunRequest{RequestId: season.RequestID("run", variety), Pool: made.GetName()})
	ask(o, director, o.client.ApproveRun, &settlementv1.ApproveRunRequest{
		RequestId: season.RequestID("approve", variety), Name: run.GetName(), Fingerprint: run.GetFingerprint(), Minutes: "Board, resolution 9",
	})
	ask(o, treasurer, o.client.ReleaseRun, &settlementv1.ReleaseRunRequest{
		RequestId: season.RequestID("release", variety), Name: run.GetName(), Fingerprint: run.GetFingerprint(),
	})
}

// pay pays everybody's balance and makes the bank's file.
func (o *office) pay(variety string) {
	o.t.Helper()
	batch := ask(o, keeper, o.client.PreparePayments, &settlementv1.PreparePaymentsRequest{
		RequestId: season.RequestID("batch", variety), PayDate: time.Now().AddDate(0, 0, 12).Format(time.DateOnly),
	})
	require.NotEmpty(o.t, batch.GetPayments(), "nobody is paid after the pool of %s", variety)
	ask(o, treasurer, o.client.ReleasePayments, &settlementv1.ReleasePaymentsRequest{
		RequestId: season.RequestID("pay", variety), Name: batch.GetName(), Fingerprint: batch.GetFingerprint(),
	})
	file := ask(o, treasurer, o.client.ExportPaymentFile, &settlementv1.ExportPaymentFileRequest{
		RequestId: season.RequestID("file", variety), Name: batch.GetName(), Format: settlementv1.PaymentFormat_PAYMENT_FORMAT_ACH,
	})
	require.Equal(o.t, batch.GetTotal().GetAmount(), file.GetTotal().GetAmount())
}

// tablePool has a price for every class a season has.
func tablePool(year int32) *settlementv1.Pool {
	p := &settlementv1.Pool{CropYear: year}
	for i, color := range []string{"WATER_WHITE", "EXTRA_WHITE", "WHITE", "EXTRA_LIGHT_AMBER", "LIGHT_AMBER", "AMBER", "DARK_AMBER"} {
		for j, grade := range []string{"A", "B", "C", "SUBSTANDARD"} {
			p.Differentials = append(p.Differentials, &settlementv1.Differential{ColorClass: color, Grade: grade, Amount: &typev1.Price{
				Amount: fmt.Sprintf("-0.%02d", 1+4*i+5*j), CurrencyCode: "USD", PerUnit: "LB",
			}})
		}
	}
	return p
}

func usd(cents int64) *typev1.Money {
	return &typev1.Money{Amount: fmt.Sprintf("%d.%02d", cents/100, cents%100), CurrencyCode: "USD"}
}

// moneyBooks are what a season's money came to, free of names that chance gives.
type moneyBooks struct{ Remittances, Journal, Balances, Members []string }

var byChance = regexp.MustCompile(`[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}`)

func (o *office) books() (b moneyBooks) {
	o.t.Helper()
	calm := *o
	calm.during = nil
	for _, batch := range ask(&calm, treasurer, o.client.ListPaymentBatches, &settlementv1.ListPaymentBatchesRequest{PageSize: 1000}).GetPaymentBatches() {
		for _, p := range batch.GetPayments() {
			b.Remittances = append(b.Remittances, fmt.Sprintf("%s %s %s to %s, account %s: %s, %s", batch.GetNumber(), batch.GetState(), p.GetMember(), p.GetPayee(),
				p.GetAccountEnding(), p.GetAmount().GetAmount(), p.GetExplanation()))
		}
		for _, p := range batch.GetBlocked() {
			b.Remittances = append(b.Remittances, fmt.Sprintf("%s not %s: %s, %s", batch.GetNumber(), p.GetMember(), p.GetAmount().GetAmount(), p.GetReason()))
		}
	}
	journal, err := o.client.ExportJournal(access.Outgoing(o.t.Context(), access.Actor{Login: "users/treasurer", Roles: []accessv1.Role{treasurer}}), &settlementv1.ExportJournalRequest{})
	require.NoError(o.t, err)
	var text strings.Builder
	for piece, err := journal.Recv(); !errors.Is(err, io.EOF); piece, err = journal.Recv() {
		require.NoError(o.t, err)
		text.WriteString(piece.GetText())
	}
	for entry := range strings.SplitSeq(strings.TrimSpace(text.String()), "\n\n") {
		b.Journal = append(b.Journal, byChance.ReplaceAllString(entry, "…"))
	}
	trial := ask(&calm, treasurer, o.client.GetTrialBalance, &settlementv1.GetTrialBalanceRequest{})
	for _, a := range trial.GetAccounts() {
		b.Balances = append(b.Balances, a.GetAccount()+" "+a.GetBalance().GetAmount())
	}
	require.Len(o.t, b.Journal, int(trial.GetEntries()))
	for _, m := range ask(&calm, treasurer, o.client.ListMemberTotals, &settlementv1.ListMemberTotalsRequest{PageSize: 1000}).GetMemberTotals() {
		b.Members = append(b.Members, m.GetMember()+" "+m.GetPayable().GetValue()+" "+m.GetNetAmount().GetAmount())
	}
	return b
}
