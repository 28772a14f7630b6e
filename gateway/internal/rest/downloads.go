package rest

import (
	"bytes"
	"context"
	"errors"
	"io"
	"mime"
	"net/http"
	"strconv"
	"strings"

	"barrelhead.example/gateway/internal/edge"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/apierr"
)

// Download answers with a file to be saved under its name.
func Download(w http.ResponseWriter, name, kind string, content []byte) {
	header := w.Header()
	header.Set("Content-Type", kind)
	header.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": name}))
	header.Set("Content-Length", strconv.Itoa(len(content)))
	header.Set("Cache-Control", "no-store")
	_, _ = w.Write(content) // the caller has gone away if this fails
}

// yearFile serves "…/{year}{ending}" by what render makes of the year; everything else below is mapped as usual.
func (h *handler) yearFile(w http.ResponseWriter, r *http.Request, ending, field string, render func(context.Context, int32) (name, kind string, content []byte, err error)) {
	text, isFile := strings.CutSuffix(r.PathValue("file"), ending)
	if !isFile {
		h.forward(w, r)
		return
	}
	h.known(func(w http.ResponseWriter, r *http.Request) {
		year, err := strconv.ParseInt(text, 10, 32)
		if err != nil {
			writeError(w, r, apierr.Field(field, "must be a year such as 2026"))
			return
		}
		v, _ := edge.VisitorFrom(r.Context())
		name, kind, content, err := render(Metadata(r.Context(), v), int32(year))
		if err != nil {
			writeError(w, r, err)
			return
		}
		Download(w, name, kind, content)
	}).ServeHTTP(w, r)
}

// statementFile serves GET /v1/members/{member}/statements/{crop year}.pdf.
func (h *handler) statementFile(w http.ResponseWriter, r *http.Request) {
	h.yearFile(w, r, ".pdf", "crop_year", func(ctx context.Context, year int32) (string, string, []byte, error) {
		d, err := h.settlement.RenderStatement(ctx, &settlementv1.RenderStatementRequest{Member: "members/" + r.PathValue("member"), CropYear: year})
		return d.GetFileName(), d.GetContentType(), d.GetContent(), err
	})
}

// ownTaxFile serves GET /v1/members/{member}/taxRecords/{year}.pdf.
func (h *handler) ownTaxFile(w http.ResponseWriter, r *http.Request) {
	h.yearFile(w, r, ".pdf", "year", func(ctx context.Context, year int32) (string, string, []byte, error) {
		d, err := h.accounts.RenderTaxRecord(ctx, &settlementv1.RenderTaxRecordRequest{Member: "members/" + r.PathValue("member"), Year: year})
		return d.GetFileName(), d.GetContentType(), d.GetContent(), err
	})
}

// taxFile serves GET /v1/taxRecords/{year}.csv.
func (h *handler) taxFile(w http.ResponseWriter, r *http.Request) {
	h.yearFile(w, r, ".csv", "year", func(ctx context.Context, year int32) (string, string, []byte, error) {
		d, err := h.accounts.ExportTaxRecords(ctx, &settlementv1.ExportTaxRecordsRequest{Year: year})
		return d.GetFileName(), d.GetContentType(), d.GetContent(), err
	})
}

// journalText serves GET /v1/journal.txt, journalTable GET /v1/journal.csv.
func (h *handler) journalText(w http.ResponseWriter, r *http.Request) {
	h.journalFile(w, r, settlementv1.JournalFormat_JOURNAL_FORMAT_UNSPECIFIED, "journal.txt", "text/plain; charset=utf-8")
}

func (h *handler) journalTable(w http.ResponseWriter, r *http.Request) {
	h.journalFile(w, r, settlementv1.JournalFormat_JOURNAL_FORMAT_CSV, "journal.csv", "text/csv; charset=utf-8")
}

// journalFile answers with the whole journal in one file, or with a refusal and no file.
func (h *handler) journalFile(w http.ResponseWriter, r *http.Request, format settlementv1.JournalFormat, name, kind string) {
	v, _ := edge.VisitorFrom(r.Context())
	query := r.URL.Query()
	stream, err := h.settlement.ExportJournal(Metadata(r.Context(), v), &settlementv1.ExportJournalRequest{
		FromDate: query.Get("from_date"), ThroughDate: query.Get("through_date"), Format: format,
	})
	var text bytes.Buffer
	for err == nil {
		var piece *settlementv1.ExportJournalResponse
		if piece, err = stream.Recv(); err == nil {
			text.WriteString(piece.GetText())
		}
	}
	if !errors.Is(err, io.EOF) {
		writeError(w, r, err)
		return
	}
	Download(w, name, kind, text.Bytes())
}
