package rest_test

import (
	"io"
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/apierr"
)

func download(t *testing.T, w *gatetest.World, token, path string) (reply, string) {
	t.Helper()
	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, w.URL+path, nil)
	require.NoError(t, err)
	request.Header.Set("Authorization", "Bearer "+token)
	answer, err := http.DefaultClient.Do(request)
	require.NoError(t, err)
	content, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	return replyOf(answer), string(content)
}

func TestDownload_Statement(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	token := w.Token("juniper")
	answer, content := download(t, w, token, "/v1/members/M-0012/statements/2026.pdf")
	require.Equal(t, http.StatusOK, answer.StatusCode)
	require.Equal(t, "application/pdf", answer.Header.Get("Content-Type"))
	require.Equal(t, "attachment; filename=statement-M-0012-2026.pdf", answer.Header.Get("Content-Disposition"))
	require.Equal(t, "%PDF-1.7 of members/M-0012", content)
	c := callerOf(t, w, token)
	c.refused("GET", "/v1/members/M-0007/statements/2026.pdf", "", 404, "NOT_FOUND", "NOT_FOUND")
	c.refused("GET", "/v1/members/M-0012/statements/soon.pdf", "", 400, "INVALID_ARGUMENT", "FIELD_INVALID")
	_, read := c.send("GET", "/v1/members/M-0012/statements/2026:render", "")
	require.Equal(t, "application/pdf", read["content_type"], "the mapping of the RPC stays beside the file")
	callerOf(t, w, "").refused("GET", "/v1/members/M-0012/statements/2026.pdf", "", 401, "UNAUTHENTICATED", "UNAUTHENTICATED")
}

func TestDownload_JournalIsWholeOrNotAtAll(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	token := w.Token("auditor1")
	answer, content := download(t, w, token, "/v1/journal.txt?from_date=2026-01-01")
	require.Equal(t, http.StatusOK, answer.StatusCode)
	require.Equal(t, "2026-09-07 advance\n    members:M-0012  -683.03 USD\n", content)
	asked, ok := w.House.Asked(&settlementv1.ExportJournalRequest{})[0].Request.(*settlementv1.ExportJournalRequest)
	require.True(t, ok)
	require.Equal(t, "2026-01-01", asked.GetFromDate())
	answer, _ = download(t, w, token, "/v1/journal.csv")
	require.Equal(t, "attachment; filename=journal.csv", answer.Header.Get("Content-Disposition"))
	asked, ok = w.House.Asked(&settlementv1.ExportJournalRequest{})[2].Request.(*settlementv1.ExportJournalRequest)
	require.True(t, ok)
	require.Equal(t, settlementv1.JournalFormat_JOURNAL_FORMAT_CSV, asked.GetFormat())
	w.House.Refuse(&settlementv1.ExportJournalRequest{}, nil, apierr.Unavailable(nil))
	callerOf(t, w, token).refused("GET", "/v1/journal.txt", "", 503, "UNAVAILABLE", "UNAVAILABLE")
}

func TestDownload_TaxFigures(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	token := w.Token("juniper")
	answer, content := download(t, w, token, "/v1/members/M-0012/taxRecords/2026.pdf")
	require.Equal(t, http.StatusOK, answer.StatusCode)
	require.Equal(t, "attachment; filename=tax-M-0012-2026.pdf", answer.Header.Get("Content-Disposition"))
	require.Equal(t, "%PDF-1.7 tax of members/M-0012", content)
	c := callerOf(t, w, token)
	c.refused("GET", "/v1/members/M-0007/taxRecords/2026.pdf", "", 404, "NOT_FOUND", "NOT_FOUND")
	c.refused("GET", "/v1/members/M-0012/taxRecords/soon.pdf", "", 400, "INVALID_ARGUMENT", "FIELD_INVALID")
	answer, content = download(t, w, w.Token("office1"), "/v1/taxRecords/2026.csv")
	require.Equal(t, http.StatusOK, answer.StatusCode)
	require.Equal(t, "text/csv; charset=utf-8", answer.Header.Get("Content-Type"))
	require.Equal(t, "member,name\nM-0012,Juniper Ridge\n", content)
	callerOf(t, w, "").refused("GET", "/v1/taxRecords/2026.csv", "", 401, "UNAUTHENTICATED", "UNAUTHENTICATED")
}

func TestPublic_StatementsOnPaperAreVerifiedByAnybody(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	c := callerOf(t, w, "")
	answer, read := c.send("GET", "/v1/statements/"+gatetest.GenuineCode+":verify", "")
	require.Equal(t, http.StatusOK, answer.StatusCode)
	require.Equal(t, true, read["genuine"])
	_, read = c.send("GET", "/v1/statements/fedcba9876543210:verify", "")
	require.Equal(t, false, read["genuine"])
}

func TestPublic_CertificatesAreVerifiedByAnybody(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	c := callerOf(t, w, "")
	answer, read := c.send("GET", "/v1/certificates/"+gatetest.CertificateID+":verify", "")
	require.Equal(t, http.StatusOK, answer.StatusCode)
	require.Equal(t, "AUTHENTICITY_GENUINE", read["authenticity"])
	c.refused("GET", "/v1/certificates/"+gatetest.CertificateID, "", 401, "UNAUTHENTICATED", "UNAUTHENTICATED")
	c.header.Set("Cookie", "barrelhead=ended-long-ago")
	answer, _ = c.send("GET", "/v1/certificates/"+gatetest.CertificateID+":verify", "")
	require.Equal(t, http.StatusOK, answer.StatusCode, "an ended session is no worse than none")
}
