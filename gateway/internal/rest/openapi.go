package rest

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"sync"

	"barrelhead.example/proto"
)

// What the generator cannot know: logins and sessions, which are no RPCs, and the body of a refusal.
//
//go:embed own.swagger.json
var ownPaths []byte

type document struct {
	header      map[string]json.RawMessage
	paths       map[string]map[string]map[string]json.RawMessage
	definitions map[string]json.RawMessage
}

// described is made once: both halves are part of the program.
var described = sync.OnceValues(describe)

// describe serves the generated description joined with our own.
func describe() (http.Handler, error) {
	whole, err := parseDocument(proto.OpenAPI)
	if err != nil {
		return nil, fmt.Errorf("read the generated API description: %w", err)
	}
	own, err := parseDocument(ownPaths)
	if err != nil {
		return nil, fmt.Errorf("read our API description: %w", err)
	}
	content, err := whole.join(own)
	if err != nil {
		return nil, fmt.Errorf("write the API description: %w", err)
	}
	sum := sha256.Sum256(content)
	etag := `"` + hex.EncodeToString(sum[:8]) + `"`
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("ETag", etag)
		w.Header().Set("Cache-Control", "no-cache")
		if r.Header.Get("If-None-Match") == etag {
			w.WriteHeader(http.StatusNotModified)
			return
		}
		w.Header().Set("Content-Type", "application/json")
		_, _ = w.Write(content) // the caller has gone away if this fails
	}), nil
}

func parseDocument(content []byte) (document, error) {
	d := document{header: map[string]json.RawMessage{}}
	if err := json.Unmarshal(content, &d.header); err != nil {
		return d, fmt.Errorf("top level: %w", err)
	}
	if err := json.Unmarshal(d.header["paths"], &d.paths); err != nil {
		return d, fmt.Errorf("paths: %w", err)
	}
	if err := json.Unmarshal(d.header["definitions"], &d.definitions); err != nil {
		return d, fmt.Errorf("definitions: %w", err)
	}
	return d, nil
}

// join puts own into d. Header members of own win, and every operation answers refusals with our body.
func (d document) join(own document) ([]byte, error) {
	if err := d.spellOut(); err != nil {
		return nil, err
	}
	maps.Copy(d.paths, own.paths)
	maps.Copy(d.definitions, own.definitions)
	delete(d.definitions, "rpcStatus")
	refusal, known := own.header["x-refusal"]
	if !known {
		return nil, errors.New("x-refusal is missing")
	}
	for path, operations := range d.paths {
		for verb, operation := range operations {
			if err := setRefusal(operation, refusal); err != nil {
				return nil, fmt.Errorf("%s %s: %w", verb, path, err)
			}
		}
	}
	for name, value := range own.header {
		if name != "x-refusal" {
			d.header[name] = value
		}
	}
	var err error
	if d.header["paths"], err = json.Marshal(d.paths); err != nil {
		return nil, fmt.Errorf("paths: %w", err)
	}
	if d.header["definitions"], err = json.Marshal(d.definitions); err != nil {
		return nil, fmt.Errorf("definitions: %w", err)
	}
	content, err := json.Marshal(d.header)
	if err != nil {
		return nil, fmt.Errorf("description: %w", err)
	}
	// The piece of a stream that is a refusal has our shape too.
	return bytes.ReplaceAll(content, []byte("#/definitions/rpcStatus"), []byte("#/definitions/Refusal")), nil
}

func setRefusal(operation map[string]json.RawMessage, refusal json.RawMessage) error {
	responses := map[string]json.RawMessage{}
	if err := json.Unmarshal(operation["responses"], &responses); err != nil {
		return fmt.Errorf("responses: %w", err)
	}
	responses["default"] = refusal
	var err error
	operation["responses"], err = json.Marshal(responses)
	return err
}
