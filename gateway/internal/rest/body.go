package rest

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"

	"barrelhead.example/services/kit/apierr"
)

const idempotencyHeader = "Idempotency-Key"

// prepareBody reads the JSON object of a change and puts the Idempotency-Key header, if there is one, into it as
// request_id. The header is a convenience: the id is part of the request wherever it came from.
func prepareBody(r *http.Request) error {
	if r.Method == http.MethodGet || r.Method == http.MethodHead {
		return nil
	}
	members, err := readObject(r)
	if err != nil {
		return err
	}
	if err := takeKey(members, r.Header.Get(idempotencyHeader)); err != nil {
		return err
	}
	body, err := json.Marshal(members)
	if err != nil {
		return fmt.Errorf("write body again: %w", err)
	}
	r.Body, r.ContentLength = io.NopCloser(bytes.NewReader(body)), int64(len(body))
	r.Header.Set("Content-Length", fmt.Sprint(len(body)))
	return nil
}

func readObject(r *http.Request) (map[string]json.RawMessage, error) {
	content, err := io.ReadAll(r.Body)
	if err != nil {
		return nil, fmt.Errorf("read body: %w", err)
	}
	members := map[string]json.RawMessage{}
	if len(bytes.TrimSpace(content)) == 0 {
		return members, nil
	}
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != "application/json" {
		return nil, apierr.Field("body", "must be sent with Content-Type: application/json")
	}
	if err := json.Unmarshal(content, &members); err != nil || members == nil {
		return nil, apierr.Field("body", "must be one JSON object")
	}
	return members, onceEach(content)
}

// onceEach refuses a name given twice: two readers would take different ones.
func onceEach(content []byte) error {
	decoder := json.NewDecoder(bytes.NewReader(content))
	seen := []map[string]bool{}
	expectName := []bool{}
	for {
		token, err := decoder.Token()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return apierr.Field("body", "must be one JSON object")
		}
		top := len(seen) - 1
		switch t := token.(type) {
		case json.Delim:
			if t == '}' || t == ']' {
				seen, expectName = seen[:top], expectName[:top]
				flip(seen, expectName)
				continue
			}
			var names map[string]bool
			if t == '{' {
				names = map[string]bool{}
			}
			seen, expectName = append(seen, names), append(expectName, t == '{')
			continue
		case string:
			if top >= 0 && expectName[top] {
				if seen[top][t] {
					return apierr.Field(t, "is given twice")
				}
				seen[top][t], expectName[top] = true, false
				continue
			}
		}
		flip(seen, expectName)
	}
}

// flip says that a value just ended: inside an object a name follows.
func flip(seen []map[string]bool, expectName []bool) {
	if top := len(seen) - 1; top >= 0 && seen[top] != nil {
		expectName[top] = true
	}
}

func takeKey(members map[string]json.RawMessage, key string) error {
	if key == "" {
		return nil
	}
	for _, name := range []string{"request_id", "requestId"} {
		raw, given := members[name]
		if !given {
			continue
		}
		var inBody string
		if json.Unmarshal(raw, &inBody) != nil || inBody != key {
			return apierr.Field("request_id", "differs from the Idempotency-Key header; send one of the two")
		}
		return nil
	}
	quoted, err := json.Marshal(key)
	if err != nil {
		return fmt.Errorf("write request_id: %w", err)
	}
	members["request_id"] = quoted
	return nil
}
