package office

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"

	"barrelhead.example/gateway/internal/rest"
	"barrelhead.example/gateway/internal/web/site"
	"barrelhead.example/services/kit/apierr"
)

// imported is what the import of members answers.
type imported struct {
	Rows              int        `json:"rows"`
	Created           int        `json:"created"`
	AlreadyRegistered int        `json:"already_registered"`
	Faults            []rowFault `json:"faults"`
	Refusal           struct {
		Message string `json:"message"`
	} `json:"error"`
}

type rowFault struct {
	Row     int    `json:"row"`
	Column  string `json:"column"`
	Message string `json:"message"`
}

// importMembers reads a file in two steps: first it only says what would happen, with every fault by its row; then the very
// same bytes, carried along in the page, are registered. No file is kept here in between.
func (s room) importMembers(v *site.Visit) (site.View, error) {
	f := v.Form()
	d := map[string]any{"Form": f}
	if v.Posted {
		content, checked, err := site.SentFile(v)
		if err == nil {
			err = s.tryImport(v, d, content, checked)
		}
		if err != nil && !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	status := http.StatusOK
	if f.Problem != "" {
		status = http.StatusUnprocessableEntity
	}
	return site.View{Page: "import", Title: "Members from a file", Data: d, Status: status}, nil
}

func (s room) tryImport(v *site.Visit, d map[string]any, content []byte, checked bool) error {
	found, err := s.askImport(v, content, !checked)
	if err != nil {
		return err
	}
	if found.Refusal.Message != "" {
		return apierr.Field("file", found.Refusal.Message)
	}
	d["Found"], d["Done"] = found, checked
	if !checked && len(found.Faults) == 0 && found.Created > 0 {
		d["Content"] = site.Carried(content)
	}
	return nil
}

// askImport asks the same door programs use, as the same visitor, so there is one import with one set of rules.
func (s room) askImport(v *site.Visit, content []byte, dry bool) (*imported, error) {
	r, err := http.NewRequestWithContext(v.Context(), http.MethodPost, fmt.Sprintf("/v1/members:import?dry_run=%t", dry), bytes.NewReader(content))
	if err != nil {
		return nil, fmt.Errorf("ask the import: %w", err)
	}
	r.Header, r.Host, r.RemoteAddr = v.Request.Header.Clone(), v.Host, v.RemoteAddr
	r.Header.Set("Content-Type", "application/octet-stream")
	r.Header.Set(rest.FormTokenHeader, v.Who.FormToken())
	answer := &kept{header: http.Header{}}
	s.Papers.ServeHTTP(answer, r)
	found := &imported{}
	if err := json.Unmarshal(answer.body.Bytes(), found); err != nil {
		return nil, fmt.Errorf("read what the import answered: %w", err)
	}
	return found, nil
}

// kept is an answer for ourselves.
type kept struct {
	header http.Header
	body   bytes.Buffer
}

// Header is of no interest here.
func (k *kept) Header() http.Header { return k.header }

// WriteHeader is not needed: the body says what became of it.
func (k *kept) WriteHeader(int) {}

// Write keeps the answer.
func (k *kept) Write(part []byte) (int, error) { return k.body.Write(part) }
