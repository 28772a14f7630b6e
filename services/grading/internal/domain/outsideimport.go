package domain

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"barrelhead.example/services/kit/quantity"
)

// OutsideRow is a row of a report as a file.
type OutsideRow struct {
	// Line of the file; the header is line 1.
	Line               int
	Sample             string
	Analyte            Analyte
	Found              Found
	Laboratory, Report string
}

// RowFault is something wrong with a row.
type RowFault struct {
	Line    int
	Field   string
	Message string
}

// Err is the fault as a field of the request.
func (f RowFault) Err() error {
	field := fmt.Sprintf("rows[%d]", f.Line)
	if f.Field != "" {
		field += "." + f.Field
	}
	return &FieldError{field, fmt.Sprintf("line %d: %s", f.Line, f.Message)}
}

// OutsideHeader is the first line of a file of results.
var OutsideHeader = []string{"sample", "analyte", "value", "laboratory", "report"}

const mostOutsideRows = 1000

// ReadOutsideRows reads a file and lists all that is wrong with it, by row. Rows with a fault are left out.
func ReadOutsideRows(content []byte) (rows []OutsideRow, faults []RowFault) {
	reader := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(content, []byte("\xef\xbb\xbf"))))
	reader.FieldsPerRecord = -1
	header, err := reader.Read()
	if err != nil || !slices.Equal(header, OutsideHeader) {
		return nil, []RowFault{{1, "", "the first line must be " + strings.Join(OutsideHeader, ",")}}
	}
	seen := map[string]int{}
	for {
		cells, err := reader.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return rows, append(faults, RowFault{lineOf(err), "", fmt.Sprintf("the file cannot be read on: %v", err)})
		}
		line, _ := reader.FieldPos(0)
		row, wrong := readOutsideRow(line, cells)
		if first, twice := seen[row.key()]; twice && len(wrong) == 0 {
			wrong = append(wrong, RowFault{line, "", fmt.Sprintf("the same sample, analyte and report stand on line %d", first)})
		}
		faults = append(faults, wrong...)
		if len(wrong) == 0 {
			seen[row.key()] = line
			rows = append(rows, row)
		}
	}
	switch {
	case len(rows)+len(faults) == 0:
		faults = append(faults, RowFault{1, "", "the file has no rows"})
	case len(rows) > mostOutsideRows:
		faults = append(faults, RowFault{1, "", fmt.Sprintf("the file has %s rows: split it, at most %s go in at once", quantity.Whole(int64(len(rows))), quantity.Whole(mostOutsideRows))})
	}
	return rows, faults
}

// lineOf is where a file that is no CSV went wrong.
func lineOf(err error) int {
	var bad *csv.ParseError
	if errors.As(err, &bad) {
		return bad.StartLine
	}
	return 1
}

func (r *OutsideRow) key() string { return r.Sample + "\x00" + r.Analyte.ID + "\x00" + r.Report }

func readOutsideRow(line int, cells []string) (OutsideRow, []RowFault) {
	row := OutsideRow{Line: line}
	if len(cells) != len(OutsideHeader) {
		return row, []RowFault{{line, "", fmt.Sprintf("has %d cells, not %d", len(cells), len(OutsideHeader))}}
	}
	var faults []RowFault
	fault := func(field string, err error) {
		if err != nil {
			faults = append(faults, RowFault{line, field, err.Error()})
		}
	}
	for i := range cells {
		cells[i] = strings.TrimSpace(cells[i])
	}
	var err error
	row.Sample, err = SampleCode("sample", SampleName(strings.TrimPrefix(cells[0], samplePrefix)))
	fault("sample", err)
	row.Analyte, err = FindAnalyte(cells[1])
	fault("analyte", err)
	if err == nil {
		row.Found, err = row.Analyte.ParseFound(cells[2])
		fault("value", err)
	}
	row.Laboratory, row.Report = cells[3], cells[4]
	for field, most := range map[string]int{"laboratory": 80, "report": 60} {
		text := map[string]string{"laboratory": row.Laboratory, "report": row.Report}[field]
		if text == "" || len(text) > most {
			fault(field, fmt.Errorf("%s must have 1 to %d characters", field, most))
		}
	}
	slices.SortStableFunc(faults, func(a, b RowFault) int {
		return slices.Index(OutsideHeader, a.Field) - slices.Index(OutsideHeader, b.Field)
	})
	return row, faults
}
