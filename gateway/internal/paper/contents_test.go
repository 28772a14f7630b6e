package paper

import (
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/checkdigit"
	"barrelhead.example/services/kit/published"
)

func oneLotPallet() *inventoryv1.Pallet {
	return &inventoryv1.Pallet{
		Name: "pallets/1", Number: 12, Sscc: "906141410000000128", BuildTime: at(0),
		Lines: []*inventoryv1.PalletLine{{LotCode: "FC26258T101M", Jars: 480, Gtin: "614141000012", BestByDate: "2029-02-28"}},
	}
}

func TestPalletLabel_OfOneLotScansWithItsBestByDay(t *testing.T) {
	t.Parallel()
	pdf, err := testPress(t, prefix).palletLabel(oneLotPallet())
	require.NoError(t, err)
	count, _ := pagesOf(t, pdf)
	require.Equal(t, 1, count)
	codes := scan(t, pdf)
	require.Len(t, codes, 1)
	var read []string
	for _, s := range codes[0] {
		require.Equal(t, "GS1", s.Modifiers)
		read = append(read, s.Data)
	}
	require.ElementsMatch(t, []string{"0200614141000012" + "15290228" + "37480", "10FC26258T101M", "00906141410000000128"}, read)
	text := wordsOf(t, pdf)
	for _, wanted := range []string{"Lot FC26258T101M: 480 jars, best by 28 Feb 2029", "(15) 290228", "(10) FC26258T101M", "(00) 906141410000000128", "infants under 12 months"} {
		require.Contains(t, text, wanted)
	}
	several := oneLotPallet()
	several.Lines = append(several.Lines, &inventoryv1.PalletLine{LotCode: "FC26259T1025", Jars: 20, BestByDate: "2029-03-01"})
	pdf, err = testPress(t, prefix).palletLabel(several)
	require.NoError(t, err)
	require.Len(t, scan(t, pdf)[0], 1, "02 is of one trade item")
	require.Contains(t, wordsOf(t, pdf), "Lot FC26259T1025: 20 jars, best by 1 Mar 2029")
}

// What the bars say keeps the rules of the syntax dictionary: formats, what an identifier may not stand without, and where a separator
// would be needed.
func TestContents_KeepTheRulesOfTheirApplicationIdentifiers(t *testing.T) {
	t.Parallel()
	table := published.Load(t, "gs1_ai.csv")
	for what, change := range map[string]func(*inventoryv1.PalletLine){
		"all of it":     func(*inventoryv1.PalletLine) {},
		"GTIN-8":        func(l *inventoryv1.PalletLine) { l.Gtin = "40123455" },
		"no best-by":    func(l *inventoryv1.PalletLine) { l.BestByDate = "" },
		"most jars":     func(l *inventoryv1.PalletLine) { l.Jars = 10_000_000 },
		"longest code":  func(l *inventoryv1.PalletLine) { l.LotCode = "FC26258" + strings.Repeat("T", 10) + "01M" },
		"century's end": func(l *inventoryv1.PalletLine) { l.BestByDate = "2099-12-31" },
	} {
		m := oneLotPallet()
		change(m.GetLines()[0])
		label := map[string]bool{"00": true}
		symbols := contents(m)
		require.Len(t, symbols, 2, what)
		for _, symbol := range symbols {
			for n, e := range symbol {
				rule := published.Where(table, "ai", e.ai)[0]
				require.Regexp(t, formats[rule.Text("format")], e.data, "%s: %s, %s", what, e.ai, rule.Source())
				require.True(t, n == len(symbol)-1 || rule.Text("fnc1_needed_if_not_last") == "no", "%s: %s needs a separator, %s", what, e.ai, rule.Source())
				label[e.ai] = true
			}
			require.NoError(t, checkdigit.ValidGS1(symbols[0][0].data))
		}
		require.True(t, label["02"] && label["37"] && label["10"], what)
		require.False(t, label["01"] || label["255"], "02 does not stand beside 01, nor 37 beside 255")
	}
	for what, change := range map[string]func(*inventoryv1.Pallet){
		"15 requires a GTIN": func(m *inventoryv1.Pallet) { m.GetLines()[0].Gtin = "" },
		"37 requires 00":     func(m *inventoryv1.Pallet) { m.Sscc = "" },
	} {
		m, ok := proto.Clone(oneLotPallet()).(*inventoryv1.Pallet)
		require.True(t, ok)
		change(m)
		require.Empty(t, contents(m), what)
	}
	bars, below := symbolOf(element{"15", "290228"}, element{"37", "480"})
	require.Equal(t, "(15) 290228 (37) 480", below)
	require.Equal(t, "1529022837480", strings.TrimLeft(bars, fmt.Sprintf("%c", []rune(bars)[0])))
}

// formats of the identifiers a pallet carries, as the dictionary writes them.
var formats = map[string]*regexp.Regexp{
	"N14 check digit":            regexp.MustCompile(`^[0-9]{14}$`),
	"N6 YYMMDD (day 00 allowed)": regexp.MustCompile(`^[0-9]{2}(0[1-9]|1[0-2])(0[1-9]|[12][0-9]|3[01])$`), // a day is always known
	"N..8":                       regexp.MustCompile(`^[0-9]{1,8}$`),
	"X..20":                      regexp.MustCompile(`^[0-9A-Z]{1,20}$`),
}
