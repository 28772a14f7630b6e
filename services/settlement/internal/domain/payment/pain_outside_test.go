package payment_test

import (
	"bytes"
	"encoding/json"
	"os/exec"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain/payment"
)

// read is what a library of other people found in a credit transfer; see deploy/tools/painread.
type read struct {
	Message, Count, Sum string
	Blocks              []struct {
		Account, Count, Sum string
		Transfers           []struct{ ID, Holder, Account, Amount, Currency string }
	}
}

func readOutside(t *testing.T, raw []byte) read {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), "go", "run", "-C", "../../../../../deploy/tools", "./painread")
	cmd.Stdin = bytes.NewReader(raw)
	var complaint bytes.Buffer
	cmd.Stderr = &complaint
	out, err := cmd.Output()
	require.NoError(t, err, complaint.String())
	var found read
	require.NoError(t, json.Unmarshal(out, &found))
	return found
}

// TestCreditTransfersAreReadByOthers: who is paid what, from where, and the counts and control sums of both levels.
func TestCreditTransfersAreReadByOthers(t *testing.T) {
	t.Parallel()
	payees := []struct {
		account payment.Account
		amount  quantity.Money
	}{
		{payment.Account{Holder: "Orchard Hill Apiary", IBAN: iban}, 1},
		{payment.Account{Holder: "Bienen & Söhne <Honig>", IBAN: "DE89370400440532013000"}, 1_969_37}, // published example numbers
		{payment.Account{Holder: "Three Oaks", IBAN: "FR1420041010050500013M02606"}, 99_999_999_99},
	}
	var transfers []payment.Transfer
	for _, p := range payees {
		transfers = append(transfers, transfer(p.amount, p.account))
	}
	f := file(transfers...)
	f.Currency = "EUR"
	raw, err := f.PAIN()
	require.NoError(t, err)
	found := readOutside(t, raw)

	require.Equal(t, []string{f.Number, "3", "100001969.37"}, []string{found.Message, found.Count, found.Sum})
	require.Len(t, found.Blocks, 1)
	block := found.Blocks[0]
	require.Equal(t, []string{f.From.IBAN, "3", "100001969.37"}, []string{block.Account, block.Count, block.Sum})
	require.Len(t, block.Transfers, 3)
	for i, paid := range block.Transfers {
		require.Equal(t, []string{payees[i].account.Holder, payees[i].account.IBAN, payees[i].amount.String(), "EUR"},
			[]string{paid.Holder, paid.Account, paid.Amount, paid.Currency})
	}
}
