package paper

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

// memberHead are the columns of a member list, the same in and out; they are the fields of a request to register one.
var memberHead = []string{"member_number", "display_name", "agreement_version", "join_date"}

const memberSheet = "members"

// mostRows of one file, so that an import ends while its sender waits.
const mostRows = 2000

// mostUnzipped bounds what a small workbook may grow to, in bytes.
const mostUnzipped = 32 << 20

func memberRows(members []*intakev1.Member) [][]string {
	rows := [][]string{memberHead}
	for _, m := range members {
		rows = append(rows, []string{last(m.GetName()), m.GetDisplayName(), m.GetAgreementVersion(), m.GetJoinDate()})
	}
	return rows
}

func membersCSV(members []*intakev1.Member) ([]byte, error) {
	rows := memberRows(members)
	for _, row := range rows {
		for i := range row {
			row[i] = guard(row[i])
		}
	}
	return writeCSV(rows)
}

// membersXLSX writes every cell as text: a date that is a number would look otherwise in every country's program.
func membersXLSX(members []*intakev1.Member) (content []byte, err error) {
	book := excelize.NewFile()
	defer func() { err = errors.Join(err, book.Close()) }()
	if err := book.SetSheetName(book.GetSheetName(0), memberSheet); err != nil {
		return nil, fmt.Errorf("name the sheet: %w", err)
	}
	text, err := book.NewStyle(&excelize.Style{NumFmt: 49})
	if err != nil {
		return nil, fmt.Errorf("make a text style: %w", err)
	}
	if err := book.SetColStyle(memberSheet, "A:D", text); err != nil {
		return nil, fmt.Errorf("set text columns: %w", err)
	}
	for i, row := range memberRows(members) {
		if err := book.SetSheetRow(memberSheet, "A"+strconv.Itoa(i+1), &row); err != nil {
			return nil, fmt.Errorf("write row %d: %w", i+1, err)
		}
	}
	var out bytes.Buffer
	if err := book.Write(&out); err != nil {
		return nil, fmt.Errorf("write a workbook: %w", err)
	}
	return out.Bytes(), nil
}

// readTable reads a member list. What it is shows in its first bytes; a workbook is a ZIP archive. Dates that a workbook
// holds as day numbers become dates.
func readTable(content []byte) ([][]string, error) {
	if bytes.HasPrefix(content, []byte("PK")) {
		return readWorkbook(content)
	}
	r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(content, []byte(byteOrderMark))))
	r.FieldsPerRecord = -1
	if first, _, _ := bytes.Cut(content, []byte("\n")); bytes.Count(first, []byte(";")) > bytes.Count(first, []byte(",")) {
		// Spreadsheet programs of countries with a decimal comma write semicolons.
		r.Comma = ';'
	}
	var rows [][]string
	for {
		row, err := r.Read()
		if errors.Is(err, io.EOF) {
			return rows, nil
		}
		if err != nil {
			return nil, fmt.Errorf("not a CSV file: %w", err)
		}
		// Blank lines are skipped by the reader, and a fault must name the line the person sees.
		line, _ := r.FieldPos(0)
		for len(rows) < line-1 {
			rows = append(rows, nil)
		}
		for i := range row {
			row[i] = unguard(row[i])
		}
		rows = append(rows, row)
	}
}

func readWorkbook(content []byte) (rows [][]string, err error) {
	book, err := excelize.OpenReader(bytes.NewReader(content), excelize.Options{UnzipSizeLimit: mostUnzipped, UnzipXMLSizeLimit: mostUnzipped, RawCellValue: true})
	if err != nil {
		return nil, fmt.Errorf("not a workbook: %w", err)
	}
	defer func() { err = errors.Join(err, book.Close()) }()
	if rows, err = book.GetRows(book.GetSheetName(0)); err != nil {
		return nil, fmt.Errorf("first sheet: %w", err)
	}
	props, err := book.GetWorkbookProps()
	if err != nil {
		return nil, fmt.Errorf("workbook: %w", err)
	}
	epoch := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
	if props.Date1904 != nil && *props.Date1904 {
		epoch = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	if len(rows) == 0 {
		return rows, nil
	}
	if column := slices.Index(rows[0], "join_date"); column >= 0 {
		for _, row := range rows[1:] {
			if column < len(row) {
				row[column] = dayNumber(row[column], epoch)
			}
		}
	}
	return rows, nil
}

// dayNumber turns 46082 into 2026-03-01; what is no such number stays as it is, to be refused with its row.
func dayNumber(text string, epoch time.Time) string {
	days, err := strconv.Atoi(strings.TrimSpace(text))
	if err != nil || days < 1 || days > 80_000 {
		return text
	}
	return epoch.AddDate(0, 0, days).Format(time.DateOnly)
}
