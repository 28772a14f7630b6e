package paper_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"barrelhead.example/gateway/internal/edge"
	"barrelhead.example/gateway/internal/gatetest"
	"barrelhead.example/gateway/internal/rest"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/apierr"
)

// answer is what came back beside the body.
type answer struct {
	StatusCode int
	Header     http.Header
}

// client is a program with a token.
type client struct {
	t     *testing.T
	base  string
	token string
}

// send returns the answer with its body read and closed.
func (c client) send(method, path string, body []byte) (*answer, []byte) {
	c.t.Helper()
	request, err := http.NewRequestWithContext(c.t.Context(), method, c.base+path, bytes.NewReader(body))
	require.NoError(c.t, err)
	if c.token != "" {
		request.Header.Set("Authorization", "Bearer "+c.token)
	}
	got, err := http.DefaultClient.Do(request)
	require.NoError(c.t, err)
	content, err := io.ReadAll(got.Body)
	require.NoError(c.t, err)
	require.NoError(c.t, got.Body.Close())
	return &answer{got.StatusCode, got.Header}, content
}

func (c client) get(path, media string) []byte {
	c.t.Helper()
	answer, content := c.send("GET", path, nil)
	require.Equal(c.t, http.StatusOK, answer.StatusCode, "%s: %s", path, content)
	require.Equal(c.t, media, answer.Header.Get("Content-Type"))
	require.Equal(c.t, "no-store", answer.Header.Get("Cache-Control"))
	return content
}

func (c client) refused(method, path string, body []byte, status int, reason string) rest.Refusal {
	c.t.Helper()
	answer, content := c.send(method, path, body)
	require.Equal(c.t, status, answer.StatusCode, "%s: %s", path, content)
	var shape struct {
		Error rest.Refusal `json:"error"`
	}
	require.NoError(c.t, json.Unmarshal(content, &shape), "%s", content)
	require.Equal(c.t, reason, shape.Error.Reason, shape.Error.Message)
	return shape.Error
}

func textOf(t *testing.T, pdf []byte) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "paper.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o600))
	out, err := exec.Command("pdftotext", file, "-").Output()
	require.NoError(t, err, "pdftotext is needed; deploy/test installs it")
	return strings.Join(strings.Fields(string(out)), " ")
}

const (
	pdf   = "application/pdf"
	sedge = "/v1/members/M-0007"
	mine  = "/v1/members/M-0012"
)

const caseLabel = "/v1/packLots/" + gatetest.LotID + "/case-label.pdf"

func TestDownloads_ComeAsTheCallerMaySee(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	dock, office := client{t, w.URL, w.Token("dock1")}, client{t, w.URL, w.Token("office1")}
	require.Contains(t, textOf(t, dock.get("/v1/tickets/"+gatetest.CloseTicketID+"/ticket.pdf", pdf)), "Receiving ticket FC-2026-000698")
	require.Contains(t, textOf(t, dock.get("/v1/tickets/"+gatetest.OpenTicketID+"/ticket.pdf", pdf)), "NOT CLOSED")
	require.Contains(t, string(office.get("/v1/tickets/"+gatetest.CloseTicketID+"/ticket.txt", "text/plain; charset=utf-8")), "FC-2026-000698")
	require.Contains(t, textOf(t, dock.get("/v1/barrels/"+gatetest.LastBarrelID+"/drum-label.pdf", pdf)), "(00) 206141416007320034")
	require.Contains(t, textOf(t, client{t, w.URL, w.Token("line1")}.get(caseLabel, pdf)), "Best by")
	require.Contains(t, textOf(t, office.get("/v1/certificates/"+gatetest.CertificateID+"/certificate.pdf", pdf)), "Grade C, white, 19.2 % water")
	require.Contains(t, textOf(t, office.get(mine+"/payouts.pdf", pdf)), "$1,517.88 credited to you")

	answer, _ := dock.send("GET", "/v1/tickets/"+gatetest.CloseTicketID+"/ticket.pdf", nil)
	require.Equal(t, `inline; filename=ticket-FC-2026-000698.pdf`, answer.Header.Get("Content-Disposition"))
	asked := w.House.Asked(&intakev1.GetTicketRequest{})
	require.Equal(t, "users/dock1", asked[len(asked)-1].Actor.Login, "the services see who wants the paper")
}

func TestDownloads_ANeighboursAnswersLikeNone(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	juniper := client{t, w.URL, w.Token("juniper")}
	require.Contains(t, textOf(t, juniper.get(mine+"/payouts.pdf", pdf)), "Juniper Ridge Bees")
	rows, err := csv.NewReader(bytes.NewReader(juniper.get(mine+"/payouts.csv", "text/csv; charset=utf-8; header=present"))).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 1+3+2+2+2)
	for _, file := range []string{"/payouts.pdf", "/payouts.csv"} {
		neighbour := juniper.refused("GET", sedge+file, nil, http.StatusNotFound, "NOT_FOUND")
		nobody := juniper.refused("GET", "/v1/members/M-9999"+file, nil, http.StatusNotFound, "NOT_FOUND")
		require.Equal(t, strings.ReplaceAll(nobody.Message, "M-9999", "M-0007"), neighbour.Message)
	}
	juniper.refused("GET", "/v1/tickets/"+gatetest.SedgeTicketID+"/ticket.pdf", nil, http.StatusNotFound, "NOT_FOUND")
	juniper.get("/v1/tickets/"+gatetest.CloseTicketID+"/ticket.pdf", pdf)
	juniper.refused("GET", "/v1/certificates/"+gatetest.CertificateID+"/certificate.pdf", nil, http.StatusForbidden, "NOT_ALLOWED")
	juniper.refused("GET", caseLabel, nil, http.StatusForbidden, "NOT_ALLOWED")
	juniper.refused("GET", "/v1/members.csv", nil, http.StatusForbidden, "NOT_ALLOWED")
}

// Only who draws samples gets the paper that ties a code to a barrel, and who has to do with drums gets theirs.
func TestDownloads_LabelsAreForThoseWhoStickThem(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	samples, drum := "/v1/barrels/5d7e3a10-0000-4000-8000-000000000001/sample-labels.pdf", "/v1/barrels/"+gatetest.LastBarrelID+"/drum-label.pdf"
	dock := client{t, w.URL, w.Token("dock1")}
	require.Equal(t, "A H2VK8PWD3 laboratory B H2VK8PWD3 member C H2VK8PWD3 referee", textOf(t, dock.get(samples, pdf)))
	answer, _ := dock.send("GET", samples, nil)
	require.Equal(t, "inline; filename=sample-labels.pdf", answer.Header.Get("Content-Disposition"))
	dock.refused("GET", "/v1/barrels/"+gatetest.LastBarrelID+"/sample-labels.pdf", nil, http.StatusBadRequest, "STATE_FORBIDS")
	for _, login := range []string{"lab1", "lead1", "warehouse1", "office1", "board1", "auditor1", "juniper", "admin"} {
		c := client{t, w.URL, w.Token(login)}
		c.refused("GET", samples, nil, http.StatusForbidden, "NOT_ALLOWED")
		if login != "office1" && login != "auditor1" {
			c.refused("GET", drum, nil, http.StatusForbidden, "NOT_ALLOWED")
		}
	}
}

func TestDownloads_NeedASignInAndKnowTheirParameters(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	stranger, office := client{t, w.URL, ""}, client{t, w.URL, w.Token("office1")}
	for _, path := range []string{
		"/v1/tickets/x/ticket.pdf", "/v1/tickets/x/ticket.txt", "/v1/barrels/x/drum-label.pdf", "/v1/barrels/x/sample-labels.pdf",
		"/v1/packLots/x/case-label.pdf", "/v1/certificates/x/certificate.pdf", mine + "/payouts.pdf", mine + "/payouts.csv", "/v1/members.csv", "/v1/members.xlsx",
	} {
		stranger.refused("GET", path, nil, http.StatusUnauthorized, "UNAUTHENTICATED")
		got := office.refused("GET", path+"?crop_year=2025", nil, http.StatusBadRequest, "FIELD_INVALID")
		require.Equal(t, "crop_year", got.Fields[0].Field)
	}
	stranger.refused("POST", "/v1/members:import", nil, http.StatusUnauthorized, "UNAUTHENTICATED")
	office.refused("GET", "/v1/tickets/x/ticket.docx", nil, http.StatusNotFound, "NOT_FOUND")
}

const good = "member_number,display_name,agreement_version,join_date\r\nM-0040,Larch Hill Apiary,2026,2026-03-01\r\nM-0012,Juniper Ridge Bees,2026,2021-04-15\r\n\r\nM-0041,\"Moss, Fern & Daughters\",,\r\n"

type imported struct {
	DryRun            bool `json:"dry_run"`
	Rows              int  `json:"rows"`
	Created           int  `json:"created"`
	AlreadyRegistered int  `json:"already_registered"`
	Faults            []struct {
		Row             int
		Column, Message string
	} `json:"faults"`
}

func (c client) imports(query string, file []byte) imported {
	c.t.Helper()
	answer, content := c.send("POST", "/v1/members:import"+query, file)
	require.Equal(c.t, http.StatusOK, answer.StatusCode, "%s", content)
	var read imported
	strict := json.NewDecoder(bytes.NewReader(content))
	strict.DisallowUnknownFields()
	require.NoError(c.t, strict.Decode(&read))
	return read
}

func sent(t *testing.T, w *gatetest.World) (ids, numbers []string) {
	t.Helper()
	for _, asked := range w.House.Asked(&intakev1.CreateMemberRequest{}) {
		r, ok := asked.Request.(*intakev1.CreateMemberRequest)
		require.True(t, ok)
		ids, numbers = append(ids, r.GetRequestId()), append(numbers, r.GetMemberNumber()+" "+r.GetDisplayName()+" "+r.GetAgreementVersion()+" "+r.GetJoinDate())
	}
	return ids, numbers
}

func TestImport_RegistersEachMemberOnce(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	office := client{t, w.URL, w.Token("office1")}
	dry := office.imports("?dry_run=true", []byte(good))
	require.Equal(t, imported{DryRun: true, Rows: 3, Created: 2, AlreadyRegistered: 1, Faults: dry.Faults}, dry)
	require.Empty(t, dry.Faults)
	ids, _ := sent(t, w)
	require.Empty(t, ids, "a dry run changes nothing")

	done := office.imports("", []byte(good))
	require.Equal(t, 2, done.Created)
	ids, numbers := sent(t, w)
	require.Equal(t, []string{"M-0040 Larch Hill Apiary 2026 2026-03-01", "M-0041 Moss, Fern & Daughters  "}, numbers)
	office.imports("?dry_run=false", []byte(good))
	again, _ := sent(t, w)
	require.Equal(t, append(ids, ids...), again, "the same rows of the same file carry the same request ids")
	require.NotEqual(t, ids[0], ids[1])
	office.imports("", []byte(good+"M-0042,Rook Lane Hives,2026,2026-03-02\r\n"))
	other, _ := sent(t, w)
	require.NotContains(t, ids, other[4], "another file is another request")
}

func TestImport_ListsEveryFaultByRowAndColumn(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	office := client{t, w.URL, w.Token("office1")}
	bad := "\ufeffMember_Number;display_name;join_date\nM-40;Larch Hill Apiary;2026-02-30\nM-0041;;\nM-0043;Rook Lane Hives;\nM-0043;Rook Lane Hives;\nM-0012;Juniper Bees;2021-04-16\n"
	dry := office.imports("?dry_run=true", []byte(bad))
	var places []string
	for _, f := range dry.Faults {
		require.NotEmpty(t, f.Message)
		places = append(places, fmt.Sprintf("%d %s", f.Row, f.Column))
	}
	// The agreement is a fault too: the file has no such column, so it says the member signed none.
	require.Equal(t, []string{"2 member_number", "2 join_date", "3 display_name", "5 member_number", "6 agreement_version", "6 display_name", "6 join_date"}, places)
	refusal := office.refused("POST", "/v1/members:import", []byte(bad), http.StatusBadRequest, "FIELD_INVALID")
	require.Len(t, refusal.Fields, 7)
	require.Equal(t, "row 2, member_number", refusal.Fields[0].Field)
	ids, _ := sent(t, w)
	require.Empty(t, ids, "one fault and nobody is registered")

	for _, useless := range []string{"", "a,b\n1,2\n", "member_number,display_name\n", "member_number,display_name,member_number\nM-0050,x,y\n", "PK\x03\x04 no workbook", "member_number,display_name\n\"M-0050,x\n"} {
		require.NotEmpty(t, office.imports("?dry_run=true", []byte(useless)).Faults, "%q", useless)
	}
	office.refused("POST", "/v1/members:import?dry_run=maybe", []byte(good), http.StatusBadRequest, "FIELD_INVALID")
	office.refused("POST", "/v1/members:import?dryrun=true", []byte(good), http.StatusBadRequest, "FIELD_INVALID")
	client{t, w.URL, w.Token("dock1")}.refused("POST", "/v1/members:import?dry_run=true", []byte(good), http.StatusForbidden, "NOT_ALLOWED")
	office.refused("POST", "/v1/members:import", bytes.Repeat([]byte("x"), 2<<20), http.StatusRequestEntityTooLarge, "FIELD_INVALID")
}

func TestImport_SaysHowFarItCame(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	office := client{t, w.URL, w.Token("office1")}
	// The connection itself repeats a call that found the service away.
	w.House.Refuse(&intakev1.CreateMemberRequest{}, nil, apierr.AlreadyExists("members/M-0041", "M-0041 was used before"))
	refusal := office.refused("POST", "/v1/members:import", []byte(good), http.StatusConflict, "ALREADY_EXISTS")
	require.Equal(t, "1 of 2 members were entered, then M-0041: M-0041 was used before. Send the same file again; nobody is entered twice", refusal.Message)
}

func TestImport_ReadsWorkbooksWithRealDates(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	office := client{t, w.URL, w.Token("office1")}
	book := excelize.NewFile()
	for cell, value := range map[string]any{
		"A1": "member_number", "B1": "display_name", "C1": "agreement_version", "D1": "join_date",
		"A2": "M-0040", "B2": "Larch Hill Apiary", "C2": 2026, "D2": 46082, "A3": "M-0041", "B3": "Rook Lane Hives", "D3": "2026-04-01",
	} {
		require.NoError(t, book.SetCellValue("Sheet1", cell, value))
	}
	date, err := book.NewStyle(&excelize.Style{NumFmt: 14})
	require.NoError(t, err)
	require.NoError(t, book.SetCellStyle("Sheet1", "D2", "D2", date))
	var file bytes.Buffer
	require.NoError(t, book.Write(&file))
	require.NoError(t, book.Close())
	require.Equal(t, 2, office.imports("", file.Bytes()).Created)
	_, numbers := sent(t, w)
	require.Equal(t, []string{"M-0040 Larch Hill Apiary 2026 2026-03-01", "M-0041 Rook Lane Hives  2026-04-01"}, numbers)
}

// What was exported can be sent back: everybody is registered already.
func TestExport_GoesBackIn(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	office := client{t, w.URL, w.Token("office1")}
	sheet := office.get("/v1/members.csv", "text/csv; charset=utf-8; header=present")
	book := office.get("/v1/members.xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet")
	require.Equal(t, book, office.get("/v1/members.xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"))
	for _, file := range [][]byte{sheet, book} {
		dry := office.imports("?dry_run=true", file)
		require.Empty(t, dry.Faults)
		require.Equal(t, 3, dry.AlreadyRegistered)
		require.Zero(t, dry.Created)
	}
	read, err := excelize.OpenReader(bytes.NewReader(book))
	require.NoError(t, err)
	rows, err := read.GetRows("members")
	require.NoError(t, err)
	require.NoError(t, read.Close())
	require.Equal(t, []string{"M-0012", "Juniper Ridge Bees", "2026", "2021-04-15"}, rows[2])
}

func TestImport_FromABrowserNeedsItsFormToken(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	answer, err := w.Browser("office1").Post(w.URL+"/v1/members:import", "text/csv", strings.NewReader(good))
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Equal(t, http.StatusForbidden, answer.StatusCode)
	ids, _ := sent(t, w)
	require.Empty(t, ids)
}

func TestDownloads_AreDescribed(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	var read struct {
		Paths map[string]map[string]any `json:"paths"`
	}
	require.NoError(t, json.Unmarshal(openapi(t, w), &read))
	for _, path := range []string{
		"/v1/tickets/{ticket}/ticket.pdf", "/v1/tickets/{ticket}/ticket.txt", "/v1/barrels/{barrel}/drum-label.pdf", "/v1/barrels/{barrel}/sample-labels.pdf",
		"/v1/packLots/{pack_lot}/case-label.pdf", "/v1/certificates/{certificate}/certificate.pdf", "/v1/members/{member}/payouts.pdf", "/v1/members/{member}/payouts.csv", "/v1/members.csv", "/v1/members.xlsx",
	} {
		require.Contains(t, read.Paths[path], "get", path)
	}
	require.Contains(t, read.Paths["/v1/members:import"], "post")
}

func openapi(t *testing.T, w *gatetest.World) []byte {
	t.Helper()
	answer, content := client{t, w.URL, ""}.send("GET", "/v1/openapi.json", nil)
	require.Equal(t, http.StatusOK, answer.StatusCode)
	return content
}

func TestImport_RecordsTheFileOfALogger(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	warehouse := client{t, w.URL, w.Token("warehouse1")}
	path := "/v1/heatStays/HR1/readings?warmed=stock/" + gatetest.StockID + "&limit_celsius=49"
	file := []byte("time,probe,fahrenheit\n2026-09-20T14:15:00Z,P1,111.2\n")
	answer, content := warehouse.send("POST", path, file)
	require.Equal(t, http.StatusOK, answer.StatusCode, "%s", content)
	require.JSONEq(t, `{"readings":1,"probes":1,"heats":[{"name":"stock/`+gatetest.StockID+`","used_percent":"6.76","unknown":false,"alarms":["probe P1 showed up to 50.7 °C"]}]}`, string(content))
	asked, ok := w.House.Asked(&inventoryv1.RecordTemperaturesRequest{})[0].Request.(*inventoryv1.RecordTemperaturesRequest)
	require.True(t, ok)
	require.Equal(t, "44.0", asked.GetReadings()[0].GetCelsius())
	require.Equal(t, "49", asked.GetLimitCelsius())
	require.Equal(t, []string{"stock/" + gatetest.StockID}, asked.GetWarmed())
	refusal := warehouse.refused("POST", path, []byte("time,probe,celsius\nnow,P1,44\n"), http.StatusBadRequest, "FIELD_INVALID")
	require.Equal(t, "row 2, time", refusal.Fields[0].Field)
	warehouse.refused("POST", path+"&probe=P1", file, http.StatusBadRequest, "FIELD_INVALID")
	warehouse.refused("POST", path+"&second_person=line1", file, http.StatusBadRequest, "FIELD_INVALID")
	client{t, w.URL, w.Token("dock1")}.refused("POST", path, file, http.StatusForbidden, "NOT_ALLOWED")
}

// Four weeks of a probe that is read each minute are one file; more is refused with how much is taken, and is sent in parts.
func TestImport_TakesFourWeeksOfMinutes(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	warehouse := client{t, w.URL, w.Token("warehouse1")}
	path := "/v1/heatStays/HR1/readings?warmed=stock/" + gatetest.StockID
	var file strings.Builder
	file.WriteString("time,probe,celsius\n")
	start := time.Date(2026, 8, 1, 6, 0, 0, 0, time.UTC)
	for n := range 40_320 {
		fmt.Fprintf(&file, "%s,P1,4%d.%d\n", start.Add(time.Duration(n)*time.Minute).Format(time.RFC3339), n%5, n%10)
	}
	require.Greater(t, file.Len(), edge.MostBody)
	answer, content := warehouse.send("POST", path, []byte(file.String()))
	require.Equal(t, http.StatusOK, answer.StatusCode, "%s", content)
	require.Contains(t, string(content), `"readings":40320`)
	require.Len(t, w.House.Asked(&inventoryv1.RecordTemperaturesRequest{}), 41, "a thousand at a time")
	refusal := warehouse.refused("POST", path, []byte(file.String()+"2026-08-29T06:00:00Z,P1,44.0\n"), http.StatusBadRequest, "FIELD_INVALID")
	require.Equal(t, "has 40321 rows, at most 40320 are taken at once: send it in parts, each with the row that names the columns", refusal.Fields[0].Message)

	answer, content = warehouse.send("POST", path, []byte(file.String()+strings.Repeat("2026-08-29T06:00:00Z,P1,44.0\n", edge.MostLog/29)))
	require.Equal(t, http.StatusRequestEntityTooLarge, answer.StatusCode)
	require.Contains(t, string(content), "the body is larger than 4194304 bytes; send it in parts")
	require.Len(t, w.House.Asked(&inventoryv1.RecordTemperaturesRequest{}), 41, "nothing more was recorded")
}
