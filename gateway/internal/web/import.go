package web

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io"
	"net/http"

	"barrelhead.example/gateway/internal/rest"
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
func (s *site) importMembers(v *visit) (view, error) {
	f := v.form()
	d := map[string]any{"Form": f}
	if v.posted {
		content, checked, err := sentFile(v)
		if err == nil {
			err = s.tryImport(v, d, content, checked)
		}
		if err != nil && !f.refused(v, err) {
			return view{}, err
		}
	}
	status := http.StatusOK
	if f.Problem != "" {
		status = http.StatusUnprocessableEntity
	}
	return view{page: "import", title: "Members from a file", data: d, status: status}, nil
}

// sentFile is the chosen file, or the one that was checked already.
func sentFile(v *visit) (content []byte, checked bool, err error) {
	if carried := v.PostForm.Get("content"); carried != "" {
		content, err = base64.StdEncoding.DecodeString(carried)
		if err != nil {
			return nil, false, apierr.Field("file", "did not arrive whole; choose it again")
		}
		return content, true, nil
	}
	content, err = chosenFile(v, "must be chosen")
	return content, false, err
}

// chosenFile reads the field "file" of a form; absent says what is wrong where nothing was chosen.
func chosenFile(v *visit, absent string) ([]byte, error) {
	chosen, _, err := v.FormFile("file")
	if err != nil {
		return nil, apierr.Field("file", absent)
	}
	defer func() { _ = chosen.Close() }() // held in memory
	content, err := io.ReadAll(chosen)
	if err != nil {
		return nil, fmt.Errorf("read the chosen file: %w", err)
	}
	return content, nil
}

// carried is a checked file as the page carries it to the next step.
func carried(content []byte) string { return base64.StdEncoding.EncodeToString(content) }

func (s *site) tryImport(v *visit, d map[string]any, content []byte, checked bool) error {
	found, err := s.askImport(v, content, !checked)
	if err != nil {
		return err
	}
	if found.Refusal.Message != "" {
		return apierr.Field("file", found.Refusal.Message)
	}
	d["Found"], d["Done"] = found, checked
	if !checked && len(found.Faults) == 0 && found.Created > 0 {
		d["Content"] = carried(content)
	}
	return nil
}

// askImport asks the same door programs use, as the same visitor, so there is one import with one set of rules.
func (s *site) askImport(v *visit, content []byte, dry bool) (*imported, error) {
	r, err := http.NewRequestWithContext(v.Context(), http.MethodPost, fmt.Sprintf("/v1/members:import?dry_run=%t", dry), bytes.NewReader(content))
	if err != nil {
		return nil, fmt.Errorf("ask the import: %w", err)
	}
	r.Header, r.Host, r.RemoteAddr = v.Request.Header.Clone(), v.Host, v.RemoteAddr
	r.Header.Set("Content-Type", "application/octet-stream")
	r.Header.Set(rest.FormTokenHeader, v.who.FormToken())
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
