package rest_test

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	"barrelhead.example/gateway/internal/rest"
)

// caller is a program that uses the API.
type caller struct {
	t     *testing.T
	base  string
	token string
	// header is sent with every request.
	header http.Header
}

func callerOf(t *testing.T, w *gatetest.World, token string) *caller {
	t.Helper()
	return &caller{t: t, base: w.URL, token: token, header: http.Header{}}
}

// reply is what came back beside the body.
type reply struct {
	StatusCode int
	Header     http.Header
	Cookies    []*http.Cookie
}

func replyOf(answer *http.Response) reply {
	return reply{StatusCode: answer.StatusCode, Header: answer.Header, Cookies: answer.Cookies()}
}

// send returns status and body; the body must be one JSON document.
func (c *caller) send(method, path, body string) (reply, map[string]any) {
	c.t.Helper()
	request, err := http.NewRequestWithContext(c.t.Context(), method, c.base+path, strings.NewReader(body))
	require.NoError(c.t, err)
	request.Header = c.header.Clone()
	if body != "" && request.Header.Get("Content-Type") == "" {
		request.Header.Set("Content-Type", "application/json")
	}
	if c.token != "" {
		request.Header.Set("Authorization", "Bearer "+c.token)
	}
	answer, err := http.DefaultClient.Do(request)
	require.NoError(c.t, err)
	content, err := io.ReadAll(answer.Body)
	require.NoError(c.t, err)
	require.NoError(c.t, answer.Body.Close())
	var read map[string]any
	require.NoError(c.t, json.NewDecoder(bytes.NewReader(content)).Decode(&read), "%s %s: %s", method, path, content)
	return replyOf(answer), read
}

// refused asserts the one shape every refusal has, and returns it.
func (c *caller) refused(method, path, body string, status int, code, reason string) rest.Refusal {
	c.t.Helper()
	answer, read := c.send(method, path, body)
	text, err := json.Marshal(read)
	require.NoError(c.t, err)
	require.Equal(c.t, status, answer.StatusCode, "%s %s: %s", method, path, text)
	require.Equal(c.t, "application/json", answer.Header.Get("Content-Type"))
	strict := json.NewDecoder(bytes.NewReader(text))
	strict.DisallowUnknownFields()
	var shape struct {
		Error rest.Refusal `json:"error"`
	}
	require.NoError(c.t, strict.Decode(&shape))
	inner, ok := read["error"].(map[string]any)
	require.True(c.t, ok)
	for _, member := range []string{"code", "reason", "message", "metadata", "fields", "request_id"} {
		require.Contains(c.t, inner, member)
		require.NotNil(c.t, inner[member], member)
	}
	require.Equal(c.t, code, shape.Error.Code, shape.Error.Message)
	require.Equal(c.t, reason, shape.Error.Reason, shape.Error.Message)
	require.NotEmpty(c.t, shape.Error.Message)
	require.Equal(c.t, answer.Header.Get("X-Request-Id"), shape.Error.RequestID)
	return shape.Error
}

func faulty(r rest.Refusal) []string {
	var fields []string
	for _, f := range r.Fields {
		fields = append(fields, f.Field)
	}
	return fields
}
