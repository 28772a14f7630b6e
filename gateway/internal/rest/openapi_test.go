package rest_test

import (
	"encoding/json"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	"barrelhead.example/services/kit/access"
)

var reference = regexp.MustCompile(`"#/definitions/([^"]+)"`)

func TestOpenAPI_DescribesEveryPathAndResolves(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	c := callerOf(t, w, "")
	answer, read := c.send("GET", "/v1/openapi.json", "")
	require.Equal(t, http.StatusOK, answer.StatusCode)
	paths, ok := read["paths"].(map[string]any)
	require.True(t, ok)
	described := map[string]bool{}
	for path, operations := range paths {
		verbs, ok := operations.(map[string]any)
		require.True(t, ok)
		for verb, operation := range verbs {
			described[verb+" "+segment.ReplaceAllString(path, "*")] = true
			text, err := json.Marshal(operation)
			require.NoError(t, err)
			require.Contains(t, string(text), "RefusalBody", "%s %s", verb, path)
			for _, name := range segment.FindAllString(path, -1) {
				require.Contains(t, string(text), `"name":"`+strings.Trim(name, "{}")+`"`, "%s %s", verb, path)
			}
		}
	}
	for _, rule := range access.Matrix() {
		for _, binding := range mapped(rule) {
			method, path, _ := strings.Cut(binding, " ")
			require.True(t, described[strings.ToLower(method)+" "+path], binding)
		}
	}
	for _, own := range []string{"post /v1/sessions", "get /v1/sessions/current", "delete /v1/sessions/current", "post /v1/logins", "get /v1/logins", "post /v1/logins/*:setPassword", "post /v1/logins/*:deactivate"} {
		require.True(t, described[own], own)
	}
	text, err := json.Marshal(read)
	require.NoError(t, err)
	definitions, ok := read["definitions"].(map[string]any)
	require.True(t, ok)
	for _, found := range reference.FindAllStringSubmatch(string(text), -1) {
		_, known := definitions[found[1]]
		require.True(t, known, found[1])
	}
	_, foreign := definitions["rpcStatus"]
	require.False(t, foreign)
}

func TestOpenAPI_IsNotSentTwice(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	first, err := http.Get(w.URL + "/v1/openapi.json")
	require.NoError(t, err)
	require.NoError(t, first.Body.Close())
	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, w.URL+"/v1/openapi.json", strings.NewReader(""))
	require.NoError(t, err)
	request.Header.Set("If-None-Match", first.Header.Get("ETag"))
	again, err := http.DefaultClient.Do(request)
	require.NoError(t, err)
	require.NoError(t, again.Body.Close())
	require.Equal(t, http.StatusNotModified, again.StatusCode)
}
