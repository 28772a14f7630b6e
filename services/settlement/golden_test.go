package settlement_test

import (
	"bufio"
	"encoding/base64"
	"encoding/json"
	"flag"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/rpctest"
)

// -update adds facts of kinds the file does not have yet. A line that is there is never written again: it is what a released
// version recorded.
var update = flag.Bool("update", false, "add new kinds of facts to the golden file")

const golden = "testdata/facts.jsonl"

// goldenFact is one fact as the feed keeps it, and what it says.
type goldenFact struct {
	Type    string          `json:"type"`
	Payload string          `json:"payload"`
	Says    json.RawMessage `json:"says"`
}

func readGolden(t *testing.T) []goldenFact {
	t.Helper()
	f, err := os.Open(golden)
	require.NoError(t, err)
	defer func() { require.NoError(t, f.Close()) }()
	var facts []goldenFact
	for lines := bufio.NewScanner(f); lines.Scan(); {
		var g goldenFact
		require.NoError(t, json.Unmarshal(lines.Bytes(), &g))
		facts = append(facts, g)
	}
	return facts
}

// allKinds makes one fact of every kind, by doing what brings it about.
func allKinds(t *testing.T) map[string][]byte {
	t.Helper()
	m := openMarket(t)
	m.bank()
	m.sells("5500.00")
	_, err := m.adopts(board, m.proposes("0.01"))
	require.NoError(t, err)
	m.settled()
	released, err := m.payOut(treasurer, m.batch())
	require.NoError(t, err)
	_, err = m.as(office).ReturnPayment(t.Context(), &settlementv1.ReturnPaymentRequest{
		RequestId: "5f8e1c4a-2b3d-4c5e-9f60-718293a4b5c6", Name: released.GetPayments()[0].GetName(), Reason: "account closed",
	})
	require.NoError(t, err)
	m.retains(2025, "FC-25")
	_, err = m.as(board).RedeemEquity(t.Context(), redeem(2025, "100"))
	require.NoError(t, err)
	m.accounts()
	m.take(&intakev1.TicketVoided{Ticket: ticket("T-FC-25", "M-0001")})
	rows, err := m.db.Pool().Query(t.Context(), `SELECT DISTINCT ON (type) type, payload FROM event_pending ORDER BY type, insertion`)
	require.NoError(t, err)
	defer rows.Close()
	kinds := map[string][]byte{}
	for rows.Next() {
		var name string
		var payload []byte
		require.NoError(t, rows.Scan(&name, &payload))
		kinds[name] = payload
	}
	require.NoError(t, rows.Err())
	return kinds
}

// accounts does what is told of members' accounts.
func (m *market) accounts() {
	_, err := m.lend(m.propose("M-0001", settlementv1.LoanPurpose_LOAN_PURPOSE_CASH, "1000.00", "50"))
	require.NoError(m.t, err)
	m.charge("M-0001", "-30.00")
	require.NoError(m.t, m.designate(2025, true, "Marketing agreement, article 12"))
	_, err = m.refund("100.01", "20", true)
	require.NoError(m.t, err)
	d, err := m.ask(rpctest.Member("M-0001"), m.payouts("M-0001")[0].GetName(), 1)
	require.NoError(m.t, err)
	_, err = m.as(office).AnswerDispute(m.t.Context(), &settlementv1.AnswerDisputeRequest{
		RequestId: "0d8e1c4a-2b3d-4c5e-9f60-718293a4b5c6", Name: d.GetName(), Answer: "Three readings of 19.2.", Outcome: settlementv1.DisputeOutcome_DISPUTE_OUTCOME_EXPLAINED,
	})
	require.NoError(m.t, err)
}

func decodeAs(t *testing.T, name string) proto.Message {
	t.Helper()
	kind, err := protoregistry.GlobalTypes.FindMessageByName(protoreflect.FullName(name))
	require.NoError(t, err)
	return kind.New().Interface()
}

func TestRecordedFactsDecodeForEver(t *testing.T) {
	t.Parallel()
	kinds := allKinds(t)
	declared := settlementv1.File_barrelhead_settlement_v1_events_proto.Messages()
	for i := range declared.Len() {
		require.Contains(t, kinds, string(declared.Get(i).FullName()), "no deed of this test brings it about")
	}
	if *update {
		addNew(t, kinds)
	}
	seen := map[string]bool{}
	for _, g := range readGolden(t) {
		seen[g.Type] = true
		raw, err := base64.StdEncoding.DecodeString(g.Payload)
		require.NoError(t, err)
		decoded, said := decodeAs(t, g.Type), decodeAs(t, g.Type)
		require.NoError(t, proto.Unmarshal(raw, decoded))
		require.Empty(t, decoded.ProtoReflect().GetUnknown(), g.Type)
		require.NoError(t, protojson.Unmarshal(g.Says, said))
		require.True(t, proto.Equal(said, decoded), "%s says %s", g.Type, protojson.Format(decoded))
	}
	for name := range kinds {
		require.True(t, seen[name], "%s has no golden line: run with -update", name)
	}
}

func addNew(t *testing.T, kinds map[string][]byte) {
	t.Helper()
	have := map[string]bool{}
	for _, g := range readGolden(t) {
		have[g.Type] = true
	}
	f, err := os.OpenFile(golden, os.O_APPEND|os.O_WRONLY, 0o600)
	require.NoError(t, err)
	defer func() { require.NoError(t, f.Close()) }()
	declared := settlementv1.File_barrelhead_settlement_v1_events_proto.Messages()
	for i := range declared.Len() {
		name := string(declared.Get(i).FullName())
		if have[name] {
			continue
		}
		fact := decodeAs(t, name)
		require.NoError(t, proto.Unmarshal(kinds[name], fact))
		says, err := protojson.Marshal(fact)
		require.NoError(t, err)
		line, err := json.Marshal(goldenFact{name, base64.StdEncoding.EncodeToString(kinds[name]), says})
		require.NoError(t, err)
		_, err = f.Write(append(line, '\n'))
		require.NoError(t, err)
	}
}
