package probelog_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/probelog"
	"barrelhead.example/services/kit/apierr"
)

var stay = probelog.Stay{Name: "heatStays/HR1-260920", Warmed: []string{"stock/1"}, Limit: "46.0"}

func zone(t *testing.T) *time.Location {
	t.Helper()
	z, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	return z
}

func TestAFileIsReadByProbeAndMakesTheSameRequestsAgain(t *testing.T) {
	t.Parallel()
	file := []byte("\ufeffTime;Probe;Fahrenheit\n2026-09-20 14:15;p2;109,4\n2026-09-20T19:30:00Z;p1;145\n\n2026-09-20 14:45;P2;31.98\n")
	got, err := probelog.Requests(file, stay, zone(t))
	require.NoError(t, err)
	require.Len(t, got, 2)
	require.Equal(t, "P1", got[0].GetProbe())
	require.Equal(t, "62.8", got[0].GetReadings()[0].GetCelsius(), "145 °F are 62.78 °C")
	require.Equal(t, "P2", got[1].GetProbe())
	require.Equal(t, "43.0", got[1].GetReadings()[0].GetCelsius())
	require.Equal(t, "2026-09-20T19:15:00Z", got[1].GetReadings()[0].GetTime().AsTime().Format(time.RFC3339), "a time without a zone is the cooperative's")
	require.Equal(t, "0.0", got[1].GetReadings()[1].GetCelsius())
	require.Equal(t, "46.0", got[0].GetLimitCelsius())
	again, err := probelog.Requests(file, stay, zone(t))
	require.NoError(t, err)
	require.Equal(t, got[0].GetRequestId(), again[0].GetRequestId())
	require.NotEqual(t, got[0].GetRequestId(), got[1].GetRequestId())
	other, err := probelog.Requests([]byte(strings.ReplaceAll(string(file), ";145", ";146")), stay, zone(t))
	require.NoError(t, err)
	require.NotEqual(t, got[0].GetRequestId(), other[0].GetRequestId(), "other readings are another request")
}

func TestMoreReadingsThanTheServiceTakesGoInParts(t *testing.T) {
	t.Parallel()
	var file strings.Builder
	file.WriteString("time,probe,celsius\n")
	begin := time.Date(2026, 9, 20, 0, 0, 0, 0, time.UTC)
	for n := range 1001 {
		fmt.Fprintf(&file, "%s,P1,44.%d\n", begin.Add(time.Duration(n)*time.Minute).Format(time.RFC3339), n%10)
	}
	got, err := probelog.Requests([]byte(file.String()), stay, time.UTC)
	require.NoError(t, err)
	require.Len(t, got, 2)
	require.Len(t, got[0].GetReadings(), 1000)
	require.Len(t, got[1].GetReadings(), 1)
}

func TestFaultsAreToldByRow(t *testing.T) {
	t.Parallel()
	_, err := probelog.Requests([]byte("time,probe,celsius\nyesterday,P1,44\n2026-09-20 14:15,,44\n2026-09-20 14:30,P1,warm\n2026-09-20 14:45,P1\n"), stay, time.UTC)
	var fields []string
	for _, f := range apierr.Parse(apierr.From(err)).Faults {
		fields = append(fields, f.Field)
	}
	require.Equal(t, []string{"row 2, time", "row 3, probe", "row 4, celsius", "row 5, celsius"}, fields)
	for _, useless := range []string{"", "time,probe\n", "time,celsius\n", "time,probe,celsius,fahrenheit\n", "time,probe,celsius\n", "time,probe,celsius\n\"2026"} {
		_, err := probelog.Requests([]byte(useless), stay, time.UTC)
		require.Error(t, err, "%q", useless)
	}
}

func FuzzRequests(f *testing.F) {
	f.Add([]byte("time,probe,celsius\n2026-09-20 14:15,P1,44.1\n"))
	f.Fuzz(func(t *testing.T, content []byte) {
		got, err := probelog.Requests(content, stay, time.UTC)
		require.Equal(t, err == nil, len(got) > 0)
		for _, r := range got {
			require.LessOrEqual(t, len(r.GetReadings()), 1000)
		}
	})
}
