package settlement_test

import (
	"encoding/hex"
	"path/filepath"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/rpctest"
	"barrelhead.example/services/kit/seal"
)

// holding are the tables with a row that shows the text, as text or in bytes.
func (m *market) holding(text string) (tables []string) {
	rows, err := m.db.Pool().Query(m.t.Context(), `SELECT table_name FROM information_schema.tables WHERE table_schema = 'settlement' AND table_type = 'BASE TABLE'`)
	require.NoError(m.t, err)
	names, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(m.t, err)
	require.Greater(m.t, len(names), 30)
	for _, name := range names {
		var found bool
		sql := `SELECT EXISTS (SELECT 1 FROM ` + pgx.Identifier{name}.Sanitize() + ` r WHERE r::text LIKE '%' || $1 || '%' OR r::text LIKE '%' || $2 || '%')`
		require.NoError(m.t, m.db.Pool().QueryRow(m.t.Context(), sql, text, hex.EncodeToString([]byte(text))).Scan(&found), name)
		if found {
			tables = append(tables, name)
		}
	}
	return tables
}

func (m *market) export(b *settlementv1.PaymentBatch, request string) (*settlementv1.PaymentFile, error) {
	return m.as(treasurer).ExportPaymentFile(m.t.Context(), &settlementv1.ExportPaymentFileRequest{
		RequestId: request, Name: b.GetName(), Format: settlementv1.PaymentFormat_PAYMENT_FORMAT_ACH,
	})
}

// The number goes in by one call and comes out in the bank's file; nowhere in between can it be read, not even in the ledger
// of requests.
func TestAccountNumbersAreNowhereInTheDatabase(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.bank()
	b, err := m.payOut(treasurer, m.batch())
	require.NoError(t, err)
	request := uuid.NewString()
	file, err := m.export(b, request)
	require.NoError(t, err)
	require.Contains(t, string(file.GetContent()), "00123456789")
	again, err := m.export(b, request)
	require.NoError(t, err)
	require.Equal(t, file.GetContent(), again.GetContent(), "the same request gets the same file, unsealed")
	require.Empty(t, m.holding("00123456789"))
	require.ElementsMatch(t, []string{"payee_account", "request_ledger"}, m.holding("111000025"), "the search finds what is in clear: a bank's number is no secret")
	list, err := m.as(auditor).ListPayeeAccounts(t.Context(), &settlementv1.ListPayeeAccountsRequest{})
	require.NoError(t, err)
	require.Equal(t, "6789", list.GetPayeeAccounts()[0].GetAccountNumber())
	// The same number under the same request is the same request, and another number is another.
	req := &settlementv1.EnterPayeeAccountRequest{RequestId: uuid.NewString(), PayeeAccount: &settlementv1.PayeeAccount{
		Payee: "members/M-0001", Holder: "Orchard Hill", RoutingNumber: "111000025", AccountNumber: "998877665544",
	}}
	first, err := m.as(office).EnterPayeeAccount(t.Context(), req)
	require.NoError(t, err)
	repeat, err := m.as(office).EnterPayeeAccount(t.Context(), req)
	require.NoError(t, err)
	require.Equal(t, first.GetName(), repeat.GetName())
	req.PayeeAccount.AccountNumber = "998877665545"
	_, err = m.as(office).EnterPayeeAccount(t.Context(), req)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_REQUEST_ID_REUSED, nil)
}

func TestNumbersOfEarlierReleasesAreSealedAndKeysChange(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	first, second := filepath.Join(t.TempDir(), "first.key"), filepath.Join(t.TempDir(), "second.key")
	under := func(files ...string) {
		keys, err := seal.Load(files...)
		require.NoError(t, err)
		m.app.Keys = keys
	}
	under(first)
	m.bank()
	// As the release before kept it.
	m.asOwner(`ALTER TABLE payee_account DISABLE TRIGGER payee_account_only_forgets`)
	m.asOwner(`DELETE FROM payee_secret`)
	m.asOwner(`UPDATE payee_account SET account_number = '00123456789'`)
	m.asOwner(`ALTER TABLE payee_account ENABLE TRIGGER payee_account_only_forgets`)
	require.Equal(t, []string{"payee_account"}, m.holding("00123456789"))
	require.NoError(t, m.app.SealAccounts(t.Context()))
	require.Empty(t, m.holding("00123456789"))
	_, err := m.db.Pool().Exec(t.Context(), `UPDATE payee_account SET account_number = '1'`)
	require.ErrorContains(t, err, "may only be taken away")
	_, err = m.db.Pool().Exec(t.Context(), `UPDATE payee_account SET holder = 'Somebody else'`)
	require.ErrorContains(t, err, "permission denied")

	under(second)
	require.ErrorContains(t, m.app.SealAccounts(t.Context()), "not among those given", "a key that is missing loses nothing")
	under(second, first)
	require.NoError(t, m.app.SealAccounts(t.Context()))
	under(second)
	b, err := m.payOut(treasurer, m.batch())
	require.NoError(t, err)
	file, err := m.export(b, uuid.NewString())
	require.NoError(t, err)
	require.Contains(t, string(file.GetContent()), "00123456789")
}

func TestWithoutAKeyNoAccountIsTaken(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.app.Keys = nil
	_, err := m.app.EnterPayeeAccount(access.With(t.Context(), office), &settlementv1.EnterPayeeAccountRequest{
		RequestId: uuid.NewString(), PayeeAccount: &settlementv1.PayeeAccount{Payee: "members/M-0001", Holder: "Orchard Hill", RoutingNumber: "111000025", AccountNumber: "1"},
	})
	require.ErrorContains(t, err, "name a file in account_key_files")
}
