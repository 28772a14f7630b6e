// Package probelog reads what temperature loggers write to a file, and makes of it the requests a person would have typed.
package probelog

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"google.golang.org/protobuf/types/known/timestamppb"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/quantity"
)

// Stay is what the file is the log of.
type Stay struct {
	// Name is "heatStays/{id}".
	Name   string
	Warmed []string
	// Limit is said with the first readings; empty says nothing.
	Limit string
}

const (
	// MostRows of a file below its head: four weeks of a probe read each minute.
	MostRows = 40_320
	// perRequest is what the service takes at once.
	perRequest = 1000
	// mostFaults are told; a file with more is of another kind.
	mostFaults = 50
)

// Requests reads a file whose first row names the columns time, probe, and celsius or fahrenheit. Times are RFC 3339, or local as
// "2026-09-20 14:15". The same file makes the same request ids, so sending it again records nothing twice. What is wrong is told by
// row; rows count from 1, the head included.
func Requests(content []byte, s Stay, zone *time.Location) ([]*inventoryv1.RecordTemperaturesRequest, error) {
	rows, err := table(content)
	if err != nil {
		return nil, apierr.Field("file", err.Error())
	}
	columns, fahrenheit, err := head(rows)
	if err != nil {
		return nil, apierr.Field("row 1", err.Error())
	}
	probes := map[string][]*inventoryv1.TemperatureReading{}
	var faults []apierr.Fault
	for i, row := range rows[1:] {
		if !slices.ContainsFunc(row, func(cell string) bool { return strings.TrimSpace(cell) != "" }) {
			continue
		}
		probe, reading, wrong := read(row, columns, fahrenheit, zone)
		if wrong.Message != "" && len(faults) < mostFaults {
			faults = append(faults, apierr.Fault{Field: fmt.Sprintf("row %d, %s", i+2, wrong.Field), Message: wrong.Message})
		}
		probes[probe] = append(probes[probe], reading)
	}
	switch {
	case len(faults) > 0:
		return nil, apierr.Fields(faults...)
	case len(probes) == 0:
		return nil, apierr.Field("row 2", "is missing: the file has no readings below its head")
	}
	return requests(probes, s), nil
}

// Hottest is the highest reading, in tenths of a degree Celsius.
func Hottest(requests []*inventoryv1.RecordTemperaturesRequest) int64 {
	hottest := int64(math.MinInt64)
	for _, request := range requests {
		for _, reading := range request.GetReadings() {
			if tenths, err := quantity.ParseFixed(reading.GetCelsius(), 1); err == nil {
				hottest = max(hottest, tenths)
			}
		}
	}
	return hottest
}

func table(content []byte) ([][]string, error) {
	content = bytes.TrimPrefix(content, []byte("\ufeff"))
	r := csv.NewReader(bytes.NewReader(content))
	r.FieldsPerRecord, r.TrimLeadingSpace = -1, true
	first, _, _ := bytes.Cut(content, []byte("\n"))
	if bytes.Count(first, []byte(";")) > bytes.Count(first, []byte(",")) {
		r.Comma = ';'
	}
	rows, err := r.ReadAll()
	switch {
	case err != nil:
		return nil, fmt.Errorf("is no CSV: %w", err)
	case len(rows) == 0:
		return nil, errors.New("is empty")
	case len(rows)-1 > MostRows:
		return nil, fmt.Errorf("has %d rows, at most %d are taken at once: send it in parts, each with the row that names the columns", len(rows)-1, MostRows)
	}
	return rows, nil
}

// head finds the columns by their names.
func head(rows [][]string) (columns map[string]int, fahrenheit bool, err error) {
	columns = map[string]int{}
	for i, cell := range rows[0] {
		columns[strings.ToLower(strings.TrimSpace(cell))] = i
	}
	_, c := columns["celsius"]
	f, fahrenheit := columns["fahrenheit"]
	if c == fahrenheit {
		return nil, false, errors.New("must name one of the columns celsius and fahrenheit")
	}
	if fahrenheit {
		columns["celsius"] = f
	}
	for _, needed := range []string{"time", "probe"} {
		if _, there := columns[needed]; !there {
			return nil, false, fmt.Errorf("must name the column %s; the columns are time, probe, and celsius or fahrenheit", needed)
		}
	}
	return columns, fahrenheit, nil
}

func read(row []string, columns map[string]int, fahrenheit bool, zone *time.Location) (string, *inventoryv1.TemperatureReading, apierr.Fault) {
	cell := func(name string) string {
		if i := columns[name]; i < len(row) {
			return strings.TrimSpace(row[i])
		}
		return ""
	}
	probe := strings.ToUpper(cell("probe"))
	at, err := moment(cell("time"), zone)
	if err != nil {
		return probe, nil, apierr.Fault{Field: "time", Message: err.Error()}
	}
	if probe == "" {
		return probe, nil, apierr.Fault{Field: "probe", Message: "is missing"}
	}
	celsius, err := degrees(cell("celsius"), fahrenheit)
	if err != nil {
		unit := "celsius"
		if fahrenheit {
			unit = "fahrenheit"
		}
		return probe, nil, apierr.Fault{Field: unit, Message: err.Error()}
	}
	return probe, &inventoryv1.TemperatureReading{Time: timestamppb.New(at), Celsius: celsius}, apierr.Fault{}
}

func moment(text string, zone *time.Location) (time.Time, error) {
	if at, err := time.Parse(time.RFC3339, text); err == nil {
		return at, nil
	}
	for _, layout := range []string{"2006-01-02 15:04:05", "2006-01-02 15:04", "2006-01-02T15:04:05", "2006-01-02T15:04"} {
		if at, err := time.ParseInLocation(layout, text, zone); err == nil {
			return at, nil
		}
	}
	return time.Time{}, fmt.Errorf("%q is not a time such as 2026-09-20 14:15 or 2026-09-20T14:15:00Z", text)
}

// digits a logger may write after the point; the log keeps one.
const digits = 4

// degrees rounds to tenths of a degree Celsius once, half away from zero: a thermometer shows no more.
func degrees(text string, fahrenheit bool) (string, error) {
	v, err := quantity.ParseFixed(strings.ReplaceAll(text, ",", "."), digits)
	if err != nil {
		return "", fmt.Errorf("%q is not a temperature such as 44.1", text)
	}
	numerator, denominator := v, int64(1000)
	if fahrenheit {
		numerator, denominator = (v-32_0000)*5, 9000
	}
	half := denominator / 2
	if numerator < 0 {
		half = -half
	}
	return quantity.FormatFixed((numerator+half)/denominator, 1, 1), nil
}

// space sets these ids apart from those other clients make by name.
var space = uuid.MustParse("3a8f5c0d-7f4b-4d5e-8a3f-6b1d92c7e410")

func requests(probes map[string][]*inventoryv1.TemperatureReading, s Stay) (out []*inventoryv1.RecordTemperaturesRequest) {
	var names []string
	for probe := range probes {
		names = append(names, probe)
	}
	slices.Sort(names)
	for _, probe := range names {
		for readings := range slices.Chunk(probes[probe], perRequest) {
			req := &inventoryv1.RecordTemperaturesRequest{Name: s.Name, Warmed: s.Warmed, Probe: probe, Readings: readings, LimitCelsius: s.Limit}
			text := fmt.Appendf(nil, "%s %q %s %s", s.Name, s.Warmed, probe, s.Limit)
			for _, r := range readings {
				text = fmt.Appendf(text, " %d %s", r.GetTime().AsTime().UnixNano(), r.GetCelsius())
			}
			req.RequestId = uuid.NewHash(sha256.New(), space, text, 8).String()
			out = append(out, req)
		}
	}
	return out
}
