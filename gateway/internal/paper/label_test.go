package paper

import (
	"encoding/csv"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/checkdigit"
)

func TestDrumLabel_ScansAsShippingContainerCode(t *testing.T) {
	t.Parallel()
	ticket := testTicket(3)
	pdf, err := testPress(t, prefix).drumLabel(filled{ticket.GetBarrels()[1], ticket, ticket})
	require.NoError(t, err)
	count, paper := pagesOf(t, pdf)
	require.Equal(t, 1, count)
	require.Equal(t, "288 x 432 pts", paper, "4 by 6 inches")
	codes := scan(t, pdf)
	require.Len(t, codes, 1)
	require.Len(t, codes[0], 1)
	require.Equal(t, "CODE-128", codes[0][0].Type)
	require.Equal(t, "GS1", codes[0][0].Modifiers, "the scanner saw FNC1 at the front")
	number, isContainer := strings.CutPrefix(codes[0][0].Data, "00")
	require.True(t, isContainer, "application identifier 00")
	require.NoError(t, checkdigit.ValidGS1(number))
	require.Equal(t, "206141416007310028", number, "26 and 00731 and 002 around the prefix")
	text := wordsOf(t, pdf)
	for _, wanted := range []string{"(00) 206141416007310028", "FC-04432", "CLOVER", "643.5 lb", "2026", "FC-2026-000731", "Line"} {
		require.Contains(t, text, wanted)
	}
	for _, hidden := range []string{"M-0012", "Juniper", "T3FN4HQX6", "dock1"} {
		require.NotContains(t, text, hidden)
	}
}

func TestDrumLabel_WithoutAPrefixIsNoShippingContainerCode(t *testing.T) {
	t.Parallel()
	ticket := testTicket(3)
	pdf, err := testPress(t, "").drumLabel(filled{ticket.GetBarrels()[2], ticket, ticket})
	require.NoError(t, err)
	codes := scan(t, pdf)
	require.Equal(t, [][]symbol{{{Type: "CODE-128", Data: "FC-2026-000731-3"}}}, codes)
	require.Contains(t, wordsOf(t, pdf), "our own number")
}

func TestDrumLabel_KeepsItsCodeThroughAReissue(t *testing.T) {
	t.Parallel()
	first, now := testTicket(3), testTicket(3)
	now.Name, now.Number, now.Supersedes = "tickets/2", "FC-2026-000744", first.GetName()
	p := testPress(t, prefix)
	before, _, err := p.code(filled{first.GetBarrels()[0], first, first})
	require.NoError(t, err)
	after, _, err := p.code(filled{now.GetBarrels()[0], now, first})
	require.NoError(t, err)
	require.Equal(t, before, after)
}

func TestSSCC_AgreesWithThePublishedExample(t *testing.T) {
	t.Parallel()
	file, err := os.Open("../../../testdata/published/check_digits.csv")
	require.NoError(t, err)
	defer func() { require.NoError(t, file.Close()) }()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	checked := 0
	for _, row := range rows {
		if row[0] != "SSCC-18" || row[1][1:8] != prefix {
			continue
		}
		checked++
		// Read as ours, the digits around the prefix are a year, a ticket and a line.
		serial := row[1][:1] + row[1][8:]
		if serial[7:] == "000" {
			continue
		}
		var line int
		_, err := fmt.Sscanf(serial[7:], "%d", &line)
		require.NoError(t, err)
		made, err := sscc(prefix, fmt.Sprintf("FC-20%s-0%s", serial[:2], serial[2:7]), line)
		require.NoError(t, err)
		require.Equal(t, row[3], made)
	}
	require.Equal(t, 2, checked)
}

// Two barrels never get one number: neither other years, tickets or lines, nor digits that run into each other.
func TestSSCC_IsOneToOne(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		company := rapid.SampledFrom([]string{"0614141", "06141412", "061414123"}).Draw(t, "prefix")
		room := layouts[len(company)]
		draw := func(label string) (string, int) {
			year := rapid.IntRange(2000, 2099).Draw(t, label+" year")
			ordinal := rapid.IntRange(1, pow10(room.ordinal)-1).Draw(t, label+" ordinal")
			return fmt.Sprintf("FC-%d-%06d", year, ordinal), rapid.IntRange(1, pow10(room.line)-1).Draw(t, label+" line")
		}
		number1, line1 := draw("first")
		number2, line2 := draw("second")
		code1, err := sscc(company, number1, line1)
		require.NoError(t, err)
		code2, err := sscc(company, number2, line2)
		require.NoError(t, err)
		require.NoError(t, checkdigit.ValidGS1(code1))
		require.Len(t, code1, 18)
		require.Equal(t, company, code1[1:1+len(company)])
		require.Equal(t, number1 == number2 && line1 == line2, code1 == code2)
	})
}

func pow10(n int) int {
	value := 1
	for range n {
		value *= 10
	}
	return value
}

func TestSSCC_RefusesWhatDoesNotFit(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		prefix, number string
		line           int
	}{
		{prefix, "FC-2026-100000", 1},
		{prefix, "FC-2026-000731", 1000},
		{prefix, "FC-2026-000731", 0},
		{prefix, "FC-26-731", 1},
		{"061414123", "FC-2026-010000", 1},
		{"0614141234", "FC-2026-000731", 1},
		{"", "FC-2026-000731", 1},
	} {
		_, err := sscc(c.prefix, c.number, c.line)
		require.Error(t, err, "%+v", c)
	}
	require.Empty(t, CheckPrefix(prefix))
	require.Empty(t, CheckPrefix(""))
	for _, wrong := range []string{"061414", "0614141234", "06141A1", "٠٦١٤١٤١"} {
		require.NotEmpty(t, CheckPrefix(wrong), wrong)
	}
}

func TestSampleLabels_ShowTheCodeAndNothingElse(t *testing.T) {
	t.Parallel()
	pdf, err := testPress(t, prefix).sampleLabels("T3FN4HQX6")
	require.NoError(t, err)
	count, paper := pagesOf(t, pdf)
	require.Equal(t, 3, count)
	require.Equal(t, "144 x 72 pts", paper, "2 by 1 inches")
	for _, page := range scan(t, pdf) {
		require.Equal(t, []symbol{{Type: "QR-Code", Data: "T3FN4HQX6"}}, page)
	}
	require.Equal(t, "A T3FN4HQX6 laboratory B T3FN4HQX6 member C T3FN4HQX6 referee", wordsOf(t, pdf))
	require.NoError(t, checkdigit.ValidCode("T3FN4HQX6"))

	other, err := testPress(t, prefix).sampleLabels("V8CJ2KMD7")
	require.NoError(t, err)
	about := func(pdf []byte) string {
		return run(t, "pdfinfo", saved(t, pdf))
	}
	info, otherInfo := about(pdf), about(other)
	for _, line := range []string{"Title:", "CreationDate:", "ModDate:", "Producer:", "Author:", "Subject:", "Keywords:"} {
		require.Equal(t, entry(info, line), entry(otherInfo, line), "the file says no more than the paper")
	}
}

func entry(info, name string) string {
	for line := range strings.Lines(info) {
		if strings.HasPrefix(line, name) {
			return line
		}
	}
	return ""
}
