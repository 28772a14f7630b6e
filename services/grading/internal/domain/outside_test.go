package domain_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/grading/internal/domain"
)

func TestADetectionLimitIsAValue(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		analyte, text, shown string
		over                 bool
	}{
		{"NITROFURANS", "<0.3", "<0.3", false},
		{"NITROFURANS", " < 0.30 ", "<0.3", false},
		{"NITROFURANS", "0.0001", "0.0001", true},
		{"TYLOSIN", "100", "100.0", false},
		{"TYLOSIN", "100.1", "100.1", true},
		{"TYLOSIN", "<100", "<100.0", false},
		{"TYLOSIN", "<100.1", "<100.1", true},
		{"HMF", "999", "999.0", false}, // a matter of standards, no residue
	} {
		a, err := domain.FindAnalyte(c.analyte)
		require.NoError(t, err)
		f, err := a.ParseFound(c.text)
		require.NoError(t, err, c.text)
		require.Equal(t, c.shown, f.String())
		over, _ := a.Over(f)
		require.Equal(t, c.over, over, "%s %s", c.analyte, c.text)
	}
}

func TestTheWorstSuspicionCounts(t *testing.T) {
	t.Parallel()
	open, cleared := domain.Suspect{Analyte: "TYLOSIN"}, domain.Suspect{Analyte: "NITROFURANS", Ended: true}
	bad := domain.Suspect{Analyte: "AMPHENICOLS", Ended: true, Confirmed: true}
	for want, list := range map[domain.Suspicion][]domain.Suspect{
		domain.NoSuspicion: nil, domain.SuspicionCleared: {cleared, cleared}, domain.SuspicionOpen: {cleared, open, cleared}, domain.SuspicionConfirmed: {open, bad, cleared, open},
	} {
		sum, _ := domain.SumUp(list)
		require.Equal(t, want, sum)
	}
	_, left := domain.SumUp([]domain.Suspect{open, bad, open})
	require.Equal(t, []string{"TYLOSIN"}, left)
}

// Whatever is sent as a file, what comes back is rows and faults that name a line.
func FuzzReadOutsideRowsIsTotal(f *testing.F) {
	header := strings.Join(domain.OutsideHeader, ",") + "\n"
	for _, seed := range []string{"", header, header + "\"unclosed", header + "a,b\n", header + "7KQ2XN4T,HMF,<1,x,y\n", "\xef\xbb\xbf" + header + "a\"b,c\n"} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, content []byte) {
		rows, faults := domain.ReadOutsideRows(content)
		require.NotZero(t, len(rows)+len(faults))
		for _, wrong := range faults {
			require.Positive(t, wrong.Line)
			require.Error(t, wrong.Err())
		}
	})
}

// Bias is what stays when chance is averaged away; drift is the later half against the earlier.
func TestBiasAndDrift(t *testing.T) {
	t.Parallel()
	var runs []domain.ControlReading
	run := func(analyst, instrument string, values ...string) {
		for _, v := range values {
			runs = append(runs, domain.ControlReading{
				Analyst: analyst, Instrument: instrument, Factor: domain.Moisture, Value: value(t, v), Target: value(t, "17.5"), Sigma: value(t, "0.1"), Failed: v == "17.9",
			})
		}
	}
	run("users/good", "RF-1", "17.5", "17.6", "17.4", "17.5")
	run("users/high", "RF-2", "17.6", "17.7", "17.6", "17.7", "17.6")
	run("users/tired", "RF-1", "17.4", "17.4", "17.6", "17.6")
	run("users/new", "RF-1", "17.9")
	reading := func(analyst, v string) domain.Reading {
		return domain.Reading{Factor: domain.Color, Analyst: analyst, Instrument: "PH-1", Computed: value(t, v), Reported: value(t, v)}
	}
	lines := domain.House().Bias(runs, []domain.JarPair{
		{Original: reading("users/good", "40"), Duplicate: reading("users/pale", "38")},
		{Original: reading("users/pale", "39"), Duplicate: reading("users/good", "41")},
		{Original: reading("users/good", "50"), Duplicate: reading("users/good", "59")}, // the same eyes tell nothing
	})
	type short struct {
		analyst             string
		bias, sigmas, moved string
		attention           bool
	}
	var got []short
	for _, l := range lines {
		s := short{analyst: l.Analyst, attention: l.Attention}
		if l.Runs > 0 {
			s.bias, s.sigmas = l.Factor.Format(l.Bias), domain.SigmasText(l.BiasSigmas)
		} else {
			s.bias = l.Factor.Format(l.DuplicateBias)
		}
		if l.Drifts {
			s.moved = domain.SigmasText(l.DriftSigmas)
		}
		got = append(got, s)
	}
	require.Equal(t, []short{
		{"users/good", "0.0", "0.00", "-1.00", false},
		{"users/high", "0.14", "1.40", "0.00", true},
		{"users/new", "0.4", "4.00", "", false},
		{"users/tired", "0.0", "0.00", "2.00", true},
		{"users/good", "2.0", "", "", true},
		{"users/pale", "-2.0", "", "", true},
	}, got)
	require.Equal(t, "5 control runs read 0.14 % off on average (1.40 standard deviations), 0 failed; the later half moved by 0.00 standard deviations. Look into it.", lines[1].Words())
	require.Equal(t, "2 duplicates read -2.0 mm off the other jar on average. Look into it.", lines[5].Words())
}
