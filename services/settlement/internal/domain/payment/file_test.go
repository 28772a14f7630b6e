package payment_test

import (
	"encoding/xml"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/payment"
)

// The routing numbers and the first account number are published examples of valid check digits.
const (
	ourBank   = "021000021"
	theirBank = "111000025"
	iban      = "GB82WEST12345698765432"
)

func file(transfers ...payment.Transfer) payment.File {
	return payment.File{
		Number: "P-2026-001", Currency: "USD", PayDate: "2026-10-02", Made: time.Date(2026, 10, 1, 9, 30, 0, 0, time.UTC), Transfers: transfers,
		From: payment.Originator{Name: "Fallow Creek Honey Cooperative", Routing: ourBank, BankName: "First Valley Bank", CompanyID: "1234567890", IBAN: iban},
	}
}

func transfer(amount quantity.Money, target payment.Account) payment.Transfer {
	return payment.Transfer{Item: payment.Item{ID: uuid.Nil, Member: "members/M-0001", To: target.Holder, Amount: amount}, Target: &target}
}

var checking = payment.Account{Holder: "Orchard Hill Apiary", Routing: theirBank, Number: "00123456789"}

// entry is what the reader below finds in one entry record, by the published columns.
type entry struct {
	code, routing, account, name string
	amount                       int64
	trace                        string
}

// readACH reads a file by columns, knowing nothing of how it was written.
func readACH(t require.TestingT, raw []byte) (entries []entry, total int64) {
	lines := strings.Split(strings.TrimSuffix(string(raw), "\n"), "\n")
	require.Zero(t, len(lines)%10, "the file is filled to whole blocks")
	column := func(line string, from, through int) string { return line[from-1 : through] }
	count := func(s string) int64 {
		n, err := strconv.ParseInt(s, 10, 64)
		require.NoError(t, err)
		return n
	}
	var hash, sum int64
	kinds := ""
	for _, line := range lines {
		require.Len(t, line, 94)
		switch kinds += line[:1]; line[:1] {
		case "1":
			require.Equal(t, "094101", column(line, 35, 40))
			require.Equal(t, " "+ourBank, column(line, 4, 13))
		case "5":
			require.Equal(t, "220", column(line, 2, 4))
			require.Equal(t, "PPD", column(line, 51, 53))
			require.Equal(t, ourBank[:8], column(line, 80, 87))
		case "6":
			e := entry{
				column(line, 2, 3), column(line, 4, 12), strings.TrimSpace(column(line, 13, 29)), strings.TrimSpace(column(line, 55, 76)),
				count(column(line, 30, 39)), column(line, 80, 94),
			}
			hash, sum, entries = hash+count(column(line, 4, 11)), sum+e.amount, append(entries, e)
		case "8":
			require.Equal(t, int64(len(entries)), count(column(line, 5, 10)))
			require.Equal(t, hash%1e10, count(column(line, 11, 20)))
			require.Zero(t, count(column(line, 21, 32)))
			require.Equal(t, sum, count(column(line, 33, 44)))
		case "9":
			if strings.Trim(line, "9") == "" {
				continue
			}
			require.Equal(t, int64(1), count(column(line, 2, 7)))
			require.Equal(t, int64(len(lines)/10), count(column(line, 8, 13)))
			require.Equal(t, int64(len(entries)), count(column(line, 14, 21)))
			require.Equal(t, hash%1e10, count(column(line, 22, 31)))
			require.Equal(t, sum, count(column(line, 44, 55)))
		}
	}
	require.Regexp(t, "^156+89+$", kinds)
	return entries, sum
}

func TestACHFile(t *testing.T) {
	t.Parallel()
	savings := payment.Account{Holder: "Bienenstöcke & Söhne, Inhaber", Routing: ourBank, Number: "A1", Savings: true}
	raw, err := file(transfer(1969_37, checking), transfer(1, savings)).ACH()
	require.NoError(t, err)
	entries, total := readACH(t, raw)
	require.Equal(t, []entry{
		{"22", theirBank, "00123456789", "ORCHARD HILL APIARY", 1969_37, "021000020000001"},
		{"32", ourBank, "A1", "BIENENST CKE & S HNE", 1, "021000020000002"},
	}, entries)
	require.Equal(t, int64(1969_38), total)
}

func TestRandomACHFilesReadBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var transfers []payment.Transfer
		var want int64
		for range rapid.IntRange(1, 40).Draw(t, "payments") {
			amount := rapid.Int64Range(1, 9_999_999_999).Draw(t, "amount")
			want += amount
			target := checking
			target.Holder = rapid.String().Draw(t, "holder")
			transfers = append(transfers, transfer(quantity.Money(amount), target))
		}
		raw, err := file(transfers...).ACH()
		require.NoError(t, err)
		entries, total := readACH(t, raw)
		require.Len(t, entries, len(transfers))
		require.Equal(t, want, total)
	})
}

func TestNoFileIsBetterThanAWrongOne(t *testing.T) {
	t.Parallel()
	refused := func(state string, f payment.File, write func(payment.File) ([]byte, error)) {
		_, err := write(f)
		var s *domain.StateError
		require.ErrorAs(t, err, &s, state)
		require.Equal(t, state, s.State)
	}
	ach, pain := payment.File.ACH, payment.File.PAIN
	refused("EMPTY", file(), ach)
	refused("NOT_POSITIVE", file(transfer(0, checking)), ach)
	refused("NOT_POSITIVE", file(transfer(-5, checking)), pain)
	refused("TOO_LARGE", file(transfer(10_000_000_000, checking)), ach)
	refused("NO_ACH_ACCOUNT", file(transfer(5, payment.Account{IBAN: iban})), ach)
	refused("NO_IBAN", file(transfer(5, checking)), pain)
	f := file(transfer(5, checking))
	f.Currency = "EUR"
	refused("CURRENCY", f, ach)
	f = file(transfer(5, checking))
	f.From.Routing, f.From.IBAN = "021000022", ""
	refused("NO_ORIGINATOR", f, ach)
	refused("NO_ORIGINATOR", f, pain)
}

// node is any element, for a reader that knows nothing of the writer's types.
type node struct {
	XMLName  xml.Name
	Attrs    []xml.Attr `xml:",any,attr"`
	Text     string     `xml:",chardata"`
	Children []node     `xml:",any"`
}

func (n node) at(path ...string) (found []node) {
	if len(path) == 0 {
		return []node{n}
	}
	for _, c := range n.Children {
		if c.XMLName.Local == path[0] {
			found = append(found, c.at(path[1:]...)...)
		}
	}
	return found
}

func TestCreditTransferFile(t *testing.T) {
	t.Parallel()
	target := payment.Account{Holder: "Bienenstöcke & Söhne", IBAN: "DE89370400440532013000"}
	f := file(transfer(1969_37, target), transfer(1, target))
	f.Currency = "EUR"
	raw, err := f.PAIN()
	require.NoError(t, err)
	var doc node
	require.NoError(t, xml.Unmarshal(raw, &doc))
	require.Equal(t, "urn:iso:std:iso:20022:tech:xsd:pain.001.001.09", doc.XMLName.Space)
	text := func(path ...string) string {
		found := doc.at(append([]string{"CstmrCdtTrfInitn"}, path...)...)
		require.NotEmpty(t, found, path)
		return found[0].Text
	}
	require.Len(t, doc.at("CstmrCdtTrfInitn"), 1)
	require.Len(t, doc.at("CstmrCdtTrfInitn", "GrpHdr"), 1)
	for _, level := range []string{"GrpHdr", "PmtInf"} {
		require.Equal(t, "2", text(level, "NbOfTxs"))
		require.Equal(t, "1969.38", text(level, "CtrlSum"))
	}
	require.Equal(t, "2026-10-02", text("PmtInf", "ReqdExctnDt", "Dt"))
	require.Equal(t, "NOTPROVIDED", text("PmtInf", "DbtrAgt", "FinInstnId", "Othr", "Id"))
	require.Equal(t, iban, text("PmtInf", "DbtrAcct", "Id", "IBAN"))
	transfers := doc.at("CstmrCdtTrfInitn", "PmtInf", "CdtTrfTxInf")
	require.Len(t, transfers, 2)
	require.Equal(t, "Bienenstöcke & Söhne", transfers[0].at("Cdtr", "Nm")[0].Text)
	amount := transfers[0].at("Amt", "InstdAmt")[0]
	require.Equal(t, "1969.37", amount.Text)
	require.Equal(t, "EUR", amount.Attrs[0].Value)
	for i, tr := range transfers {
		id := tr.at("PmtId", "EndToEndId")[0].Text
		require.Equal(t, "P-2026-001-"+strconv.Itoa(i+1), id)
		require.LessOrEqual(t, len(id), 35)
	}
}

// However a balance is split, it is split to the cent, and nobody gets more than is left or than the limit allows.
func TestSplitsAddUp(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		balance := quantity.Money(rapid.Int64Range(1, 1e9).Draw(t, "balance"))
		var notices []*payment.Encumbrance
		limits := map[string]quantity.Money{}
		for i := range rapid.IntRange(0, 5).Draw(t, "notices") {
			e := &payment.Encumbrance{
				ID: uuid.UUID{byte(i + 1)}, Kind: payment.EncumbranceKind(rapid.IntRange(1, 5).Draw(t, "kind")), Creditor: "Lender", Received: "2026-01-01",
				Percent: quantity.Percent(rapid.Int64Range(1, 10_000).Draw(t, "percent")), Limit: quantity.Money(rapid.Int64Range(0, 1e8).Draw(t, "limit")),
				Taken: quantity.Money(rapid.Int64Range(0, 1e8).Draw(t, "taken")),
			}
			limits[e.Name()] = e.Limit - e.Taken
			if e.Limit == 0 {
				limits[e.Name()] = balance
			}
			notices = append(notices, e)
		}
		terms := domain.Terms{Unit: quantity.LB, Currency: "USD"}
		claim := payment.Claim{Member: "members/M-0001", Holder: "Orchard Hill", Balance: balance, Notices: notices}
		for i := range rapid.IntRange(0, 3).Draw(t, "loans") {
			claim.Loans = append(claim.Loans, payment.LoanDue{
				Name: "loans/" + strconv.Itoa(i), Percent: quantity.Percent(rapid.Int64Range(0, 10_000).Draw(t, "deduction")),
				Interest: quantity.Money(rapid.Int64Range(0, 1e7).Draw(t, "interest")), Principal: quantity.Money(rapid.Int64Range(0, 1e9).Draw(t, "principal")),
			})
		}
		shares, err := claim.Split("2026-10-02", terms)
		require.NoError(t, err)
		require.Empty(t, shares.Blocked)
		parts := shares.Parts
		var sum quantity.Money
		for _, p := range parts {
			require.Positive(t, p.Amount)
			if limit, limited := limits[p.Payee]; limited {
				require.LessOrEqual(t, p.Amount, limit)
			}
			sum += p.Amount
		}
		for _, d := range shares.Deductions {
			of := claim.Loans[slices.IndexFunc(claim.Loans, func(l payment.LoanDue) bool { return l.Name == d.Loan })]
			require.Positive(t, d.Interest+d.Principal)
			require.LessOrEqual(t, d.Interest, of.Interest)
			require.LessOrEqual(t, d.Principal, of.Principal)
			require.True(t, d.Principal == 0 || d.Interest == of.Interest, "interest first")
			sum += d.Interest + d.Principal
		}
		require.Equal(t, balance, sum)
		claim.Notices = rapid.Permutation(notices).Draw(t, "order")
		shuffled, err := claim.Split("2026-10-02", terms)
		require.NoError(t, err)
		require.Equal(t, shares, shuffled)
	})
}
