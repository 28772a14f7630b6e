package paper

import (
	"crypto/sha256"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/google/uuid"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

// rowFault is one thing that is wrong with a file, where the person sees it: rows count from 1, the head included.
type rowFault struct {
	Row     int    `json:"row"`
	Column  string `json:"column"`
	Message string `json:"message"`
}

// plan is what an import would do.
type plan struct {
	// requests are the members to register, in the order of the file.
	requests []*intakev1.CreateMemberRequest
	rows     int
	known    int
	faults   []rowFault
}

func (p *plan) fault(row int, column, format string, args ...any) {
	p.faults = append(p.faults, rowFault{Row: row, Column: column, Message: fmt.Sprintf(format, args...)})
}

// newPlan compares a file with the members there are. A member who is registered as the file says is left alone; one who is
// registered otherwise is a fault, for nothing here changes a member.
func newPlan(content []byte, members []*intakev1.Member) *plan {
	p := &plan{}
	rows, err := readTable(content)
	if err != nil {
		p.fault(1, "", "%s", err)
		return p
	}
	columns, ok := p.columns(rows)
	if !ok {
		return p
	}
	registered := map[string]*intakev1.Member{}
	for _, m := range members {
		registered[last(m.GetName())] = m
	}
	seen := map[string]int{}
	for i, row := range rows[1:] {
		if cells := read(row, columns); !blank(row) {
			p.rows++
			p.row(i+2, cells, seen, registered, content)
		}
	}
	switch {
	case p.rows == 0:
		p.fault(2, "", "the file has no members below its head")
	case p.rows > mostRows:
		p.fault(mostRows+2, "", "the file has %d members, at most %d are taken at once: send it in parts", p.rows, mostRows)
	}
	return p
}

// columns finds each column by its name in the first row.
func (p *plan) columns(rows [][]string) (map[string]int, bool) {
	var head []string
	if len(rows) > 0 {
		for _, cell := range rows[0] {
			head = append(head, strings.ToLower(strings.TrimSpace(cell)))
		}
	}
	found := map[string]int{}
	for i, name := range head {
		switch _, twice := found[name]; {
		case name == "":
		case !slices.Contains(memberHead, name):
			p.fault(1, name, "is not a column of a member list; the columns are %s", strings.Join(memberHead, ", "))
		case twice:
			p.fault(1, name, "is there twice")
		default:
			found[name] = i
		}
	}
	for _, needed := range memberHead[:2] {
		if _, ok := found[needed]; !ok {
			p.fault(1, needed, "is missing in the first row, which names the columns")
		}
	}
	return found, len(p.faults) == 0
}

func read(row []string, columns map[string]int) map[string]string {
	cells := map[string]string{}
	for name, i := range columns {
		if i < len(row) {
			cells[name] = strings.TrimSpace(row[i])
		}
	}
	return cells
}

func blank(row []string) bool {
	return !slices.ContainsFunc(row, func(cell string) bool { return strings.TrimSpace(cell) != "" })
}

var memberNumber = regexp.MustCompile(`^M-[0-9]{4,6}$`)

// row checks one member as the service would, so that every fault of the file is told before anybody is registered.
func (p *plan) row(row int, cells map[string]string, seen map[string]int, registered map[string]*intakev1.Member, content []byte) {
	before := len(p.faults)
	number, name := cells["member_number"], cells["display_name"]
	if !memberNumber.MatchString(number) {
		p.fault(row, "member_number", `is %q, must be "M-" and 4 to 6 digits, e.g. M-0012`, number)
	} else if first, twice := seen[number]; twice {
		p.fault(row, "member_number", "%s is in row %d already", number, first)
	}
	seen[number] = row
	if n := utf8.RuneCountInString(name); n < 1 || n > 120 || !utf8.ValidString(name) {
		p.fault(row, "display_name", "must be 1 to 120 characters of text but is %d", n)
	}
	if n := utf8.RuneCountInString(cells["agreement_version"]); n > 40 {
		p.fault(row, "agreement_version", "must be at most 40 characters but is %d", n)
	}
	if date := cells["join_date"]; date != "" {
		if _, err := time.Parse(time.DateOnly, date); err != nil {
			p.fault(row, "join_date", "is %q, must be a date such as 2026-03-01, or empty for today", date)
		}
	}
	if len(p.faults) > before {
		return
	}
	if member := registered[number]; member != nil {
		p.compare(row, cells, member)
		return
	}
	p.requests = append(p.requests, &intakev1.CreateMemberRequest{
		RequestId: requestID(content, row), MemberNumber: number, DisplayName: name,
		AgreementVersion: cells["agreement_version"], JoinDate: cells["join_date"],
	})
}

// compare lets a file be sent again after it was worked, whole or in part. An empty date said "today" once and says nothing now.
func (p *plan) compare(row int, cells map[string]string, m *intakev1.Member) {
	before := len(p.faults)
	for column, has := range map[string]string{"display_name": m.GetDisplayName(), "agreement_version": m.GetAgreementVersion(), "join_date": m.GetJoinDate()} {
		if cells[column] != has && (column != "join_date" || cells[column] != "") {
			p.fault(row, column, "is %q, but %s is registered with %q; a file only adds members", cells[column], last(m.GetName()), has)
		}
	}
	slices.SortFunc(p.faults[before:], func(a, b rowFault) int { return strings.Compare(a.Column, b.Column) })
	if len(p.faults) == before {
		p.known++
	}
}

// importSpace sets these ids apart from those other clients make by name.
var importSpace = uuid.MustParse("b6a0f1f2-5c53-4c0e-9d0b-6f3b5a1e7c21")

// requestID is the same for the same row of the same file, so that sending a file again registers nobody twice.
func requestID(content []byte, row int) string {
	return uuid.NewHash(sha256.New(), importSpace, fmt.Appendf(nil, "%x row %d", sha256.Sum256(content), row), 8).String()
}
