package checkdigit_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/checkdigit"
	"barrelhead.example/services/kit/published"
)

func iban(row published.Row) (string, error) {
	return checkdigit.IBAN(row.Text("full")[:2], row.Text("body"))
}

func gs1(row published.Row) (string, error) { return checkdigit.GS1(row.Text("body")) }

func aba(row published.Row) (string, error) { return checkdigit.ABA(row.Text("body")) }

func TestPublishedNumbers(t *testing.T) {
	t.Parallel()
	rows := published.Load(t, "check_digits.csv")
	for prefix, scheme := range map[string]struct {
		check func(published.Row) (string, error)
		valid func(string) error
	}{
		"GTIN": {gs1, checkdigit.ValidGS1},
		"SSCC": {gs1, checkdigit.ValidGS1},
		"ABA":  {aba, checkdigit.ValidABA},
		"IBAN": {iban, checkdigit.ValidIBAN},
	} {
		for _, row := range published.Where(rows, "kind", prefix) {
			got, err := scheme.check(row)
			require.NoError(t, err, "%s", row)
			require.Equal(t, row.Text("check"), got, "%s", row)
			require.NoError(t, scheme.valid(row.Text("full")), "%s", row)
		}
	}
}

func TestPublishedNumbersThatMustBeRefused(t *testing.T) {
	t.Parallel()
	rows := published.Load(t, "check_digits.csv")
	for kind, valid := range map[string]func(string) error{
		"INVALID GTIN": checkdigit.ValidGS1,
		"INVALID ABA":  checkdigit.ValidABA,
		"INVALID IBAN": checkdigit.ValidIBAN,
	} {
		for _, row := range published.Where(rows, "kind", kind) {
			require.ErrorIs(t, valid(row.Text("full")), checkdigit.ErrCheck, "%s", row)
		}
	}
}

// Identifiers whose standards name ISO 7064 MOD 37,36: the example of the Global Release Identifier, and one of the
// Entertainment Identifier Registry. Both are from memory; that the rule reproduces their last character is the check.
func TestCodesOfOtherUsersOfTheScheme(t *testing.T) {
	t.Parallel()
	for body, check := range map[string]string{"A12425GABC1234002": "M", "779185342C2390308610": "5"} {
		got, err := checkdigit.Code(body)
		require.NoError(t, err)
		require.Equal(t, check, got)
		require.NoError(t, checkdigit.ValidCode(body+check))
	}
}

func TestRefusals(t *testing.T) {
	t.Parallel()
	cases := []struct {
		err  error
		want error
		text string
	}{
		{checkdigit.ValidGS1("629104150021"), checkdigit.ErrCheck, `GS1 number "629104150021" fails its check: a character is mistyped or two are swapped`},
		{checkdigit.ValidGS1("62910415002 3"), checkdigit.ErrCharacter, `GS1 number "62910415002 3" has a character that cannot occur in it`},
		{checkdigit.ValidGS1("62"), checkdigit.ErrLength, `GS1 number "62" has the wrong length`},
		{checkdigit.ValidABA("000000000"), checkdigit.ErrCheck, `bank routing number "000000000" fails its check: a character is mistyped or two are swapped`},
		{checkdigit.ValidABA("02100002"), checkdigit.ErrLength, `bank routing number "02100002" has the wrong length`},
		{checkdigit.ValidIBAN("gb82WEST12345698765432"), checkdigit.ErrCharacter, `account number "gb82WEST12345698765432" has a character that cannot occur in it`},
		{checkdigit.ValidIBAN("1282WEST12345698765432"), checkdigit.ErrCharacter, `account number "1282WEST12345698765432" has a character that cannot occur in it`},
		{checkdigit.ValidIBAN("GBA2WEST12345698765432"), checkdigit.ErrCharacter, `account number "GBA2WEST12345698765432" has a character that cannot occur in it`},
		{checkdigit.ValidIBAN("GB82"), checkdigit.ErrLength, `account number "GB82" has the wrong length`},
		{checkdigit.ValidCode("7"), checkdigit.ErrLength, `code "7" has the wrong length`},
		{checkdigit.ValidCode("ab7"), checkdigit.ErrCharacter, `code "ab7" has a character that cannot occur in it`},
		{checkdigit.ValidCode("AB-"), checkdigit.ErrCharacter, `code "AB-" has a character that cannot occur in it`},
		{checkdigit.ValidCode("AB0"), checkdigit.ErrCheck, `code "AB0" fails its check: a character is mistyped or two are swapped`},
	}
	for _, c := range cases {
		require.ErrorIs(t, c.err, c.want)
		require.EqualError(t, c.err, c.text)
	}
}

const alphabet = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"

func TestAnyWrongCharacterIsFound(t *testing.T) {
	t.Parallel()
	for scheme, c := range map[string]struct {
		body     *rapid.Generator[string]
		alphabet string
		check    func(string) (string, error)
		valid    func(string) error
	}{
		"GS1":  {rapid.StringMatching(`[0-9]{17}`), alphabet[:10], checkdigit.GS1, checkdigit.ValidGS1},
		"ABA":  {rapid.StringMatching(`[1-9][0-9]{7}`), alphabet[:10], checkdigit.ABA, checkdigit.ValidABA},
		"code": {rapid.StringMatching(`[0-9A-Z]{1,12}`), alphabet, checkdigit.Code, checkdigit.ValidCode},
	} {
		t.Run(scheme, func(t *testing.T) {
			t.Parallel()
			rapid.Check(t, func(t *rapid.T) {
				body := c.body.Draw(t, "body")
				check, err := c.check(body)
				require.NoError(t, err)
				whole := body + check
				require.NoError(t, c.valid(whole))
				at := rapid.IntRange(0, len(whole)-1).Draw(t, "at")
				for _, other := range c.alphabet {
					if wrong := whole[:at] + string(other) + whole[at+1:]; wrong != whole {
						require.ErrorIs(t, c.valid(wrong), checkdigit.ErrCheck)
					}
				}
			})
		})
	}
}

// Every pair of neighbours before every check state, which is all there is to a swap: what follows is a permutation.
func TestNearlyEverySwapInACodeIsFound(t *testing.T) {
	t.Parallel()
	swaps, missed := 0, 0
	for _, lead := range alphabet {
		for _, a := range alphabet {
			for _, b := range alphabet {
				if a == b {
					continue
				}
				swaps++
				there, err := checkdigit.Code(string(lead) + string(a) + string(b))
				require.NoError(t, err)
				back, err := checkdigit.Code(string(lead) + string(b) + string(a))
				require.NoError(t, err)
				if there == back {
					missed++
				}
			}
		}
	}
	require.LessOrEqual(t, missed*1000, swaps*2, "%d of %d swaps missed", missed, swaps)
}

// Only within digits: a letter counts as two digits, so one typed for a digit moves all that stand before it,
// so about one in 97 of those passes.
func TestIBANFindsSwapsAndWrongDigits(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		rest := rapid.StringMatching(`[A-Z]{4}[0-9]{7,26}`).Draw(t, "rest")
		check, err := checkdigit.IBAN("XX", rest)
		require.NoError(t, err)
		require.NoError(t, checkdigit.ValidIBAN("XX"+check+rest))
		at := rapid.IntRange(4, len(rest)-2).Draw(t, "at")
		swapped := rest[:at] + rest[at+1:at+2] + rest[at:at+1] + rest[at+2:]
		if swapped != rest {
			require.ErrorIs(t, checkdigit.ValidIBAN("XX"+check+swapped), checkdigit.ErrCheck)
		}
		other := strings.Replace(alphabet[:10], rest[at:at+1], "", 1)[rapid.IntRange(0, 8).Draw(t, "other")]
		require.ErrorIs(t, checkdigit.ValidIBAN("XX"+check+rest[:at]+string(other)+rest[at+1:]), checkdigit.ErrCheck)
	})
}

func FuzzValidNeverPanics(f *testing.F) {
	for _, s := range []string{"", "021000021", "GB82WEST12345698765432", "6291041500213", "A12425GABC1234002M", "é"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if checkdigit.ValidCode(s) == nil {
			check, err := checkdigit.Code(s[:len(s)-1])
			require.NoError(t, err)
			require.Equal(t, s[len(s)-1:], check)
		}
		if checkdigit.ValidIBAN(s) == nil {
			check, err := checkdigit.IBAN(s[:2], s[4:])
			require.NoError(t, err)
			require.Equal(t, s[2:4], check)
		}
		if checkdigit.ValidABA(s) == nil {
			require.Len(t, s, 9)
		}
		if checkdigit.ValidGS1(s) == nil {
			require.LessOrEqual(t, len(s), 18)
		}
	})
}
