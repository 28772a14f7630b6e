package payment_test

import (
	"bytes"
	"strconv"
	"strings"
	"testing"

	"github.com/moov-io/ach"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain/payment"
)

// readNacha reads and checks a file by a library that knows the Nacha rules: lengths, check digits, hashes, counts and totals.
func readNacha(raw []byte) (*ach.File, error) {
	f, err := ach.NewReader(bytes.NewReader(raw)).Read()
	if err != nil {
		return nil, err
	}
	return &f, f.Validate()
}

func TestAnOutsideReaderTakesTheACHFile(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var transfers []payment.Transfer
		var want, hash int64
		for range rapid.IntRange(1, 30).Draw(t, "payments") {
			target := payment.Account{
				Holder: "Orchard Hill Apiary", Routing: rapid.SampledFrom([]string{ourBank, theirBank}).Draw(t, "bank"),
				Number: rapid.StringMatching(`[A-Z0-9]{1,17}`).Draw(t, "number"), Savings: rapid.Bool().Draw(t, "savings"),
			}
			amount := rapid.Int64Range(1, 1_000_000_00).Draw(t, "amount")
			identification, err := strconv.ParseInt(target.Routing[:8], 10, 64)
			require.NoError(t, err)
			want, hash, transfers = want+amount, hash+identification, append(transfers, transfer(quantity.Money(amount), target))
		}
		raw, err := file(transfers...).ACH()
		require.NoError(t, err)
		require.Zero(t, strings.Count(string(raw), "\n")%10, "whole blocks of ten records")
		f, err := readNacha(raw)
		require.NoError(t, err)
		require.Len(t, f.Batches, 1)
		require.Equal(t, int64(f.Control.TotalCreditEntryDollarAmountInFile), want)
		require.Zero(t, f.Control.TotalDebitEntryDollarAmountInFile)
		require.Equal(t, int64(f.Control.EntryHash), hash%1e10)
		entries := f.Batches[0].GetEntries()
		require.Len(t, entries, len(transfers))
		for i, e := range entries {
			require.Equal(t, int64(transfers[i].Amount), int64(e.Amount))
			require.Equal(t, transfers[i].Target.Routing, e.RDFIIdentification+e.CheckDigit)
			require.Equal(t, transfers[i].Target.Number, strings.TrimSpace(e.DFIAccountNumber))
		}
	})
}

// One wrong digit anywhere that counts is seen by both readers' rules.
func TestAnOutsideReaderRefusesBrokenACHFiles(t *testing.T) {
	t.Parallel()
	raw, err := file(transfer(1969_37, checking), transfer(2_00, checking)).ACH()
	require.NoError(t, err)
	lines := strings.SplitAfter(string(raw), "\n")
	put := func(line, column int, with string) []byte {
		broken := append([]string(nil), lines...)
		broken[line] = broken[line][:column-1] + with + broken[line][column-1+len(with):]
		return []byte(strings.Join(broken, ""))
	}
	_, err = readNacha(put(2, 30, "0000196937"))
	require.NoError(t, err, "the amount as it was")
	for name, broken := range map[string][]byte{
		"amount of an entry": put(2, 30, "0000196938"), "bank of an entry": put(2, 4, "111000024"), "entries of the batch": put(4, 5, "000003"),
		"hash of the batch": put(4, 11, "0022200005"), "credits of the batch": put(4, 33, "000000197138"),
		"hash of the file": put(5, 22, "0022200005"), "credits of the file": put(5, 44, "000000197138"), "an entry left out": []byte(strings.Join(append(append([]string(nil), lines[:3]...), lines[4:]...), "")),
		"a short record": []byte(strings.Replace(string(raw), "ORCHARD", "ORCHAR", 1)),
	} {
		_, err := readNacha(broken)
		require.Error(t, err, name)
	}
}
