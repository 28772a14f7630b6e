package rest_test

import (
	"bufio"
	"encoding/json"
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

func TestStream_ArrivesLineByLine(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, w.URL+"/v1/scales/1:watchIndication", nil)
	require.NoError(t, err)
	request.Header.Set("Authorization", "Bearer "+w.Token("dock1"))
	answer, err := http.DefaultClient.Do(request)
	require.NoError(t, err)
	defer func() { require.NoError(t, answer.Body.Close()) }()
	line, err := bufio.NewReader(answer.Body).ReadBytes('\n')
	require.NoError(t, err, "while the stream is still open")
	var piece struct {
		Result struct {
			State  string
			Weight map[string]string
		}
	}
	require.NoError(t, json.Unmarshal(line, &piece))
	require.Equal(t, "INDICATION_STATE_STABLE", piece.Result.State)
	require.Equal(t, "682.0", piece.Result.Weight["value"])
}

func TestStream_RefusesInTheOneShape(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	c := callerOf(t, w, w.Token("dock1"))
	got := c.refused("GET", "/v1/scales/2:watchIndication", "", 400, "FAILED_PRECONDITION", "STATE_FORBIDS")
	require.Equal(t, map[string]string{"resource": "scales/2", "state": "NO_INDICATOR"}, got.Metadata)
	c.refused("GET", "/v1/scales/2:watchIndication?speed=2", "", 400, "INVALID_ARGUMENT", "FIELD_INVALID")
	callerOf(t, w, "").refused("GET", "/v1/scales/1:watchIndication", "", 401, "UNAUTHENTICATED", "UNAUTHENTICATED")
	require.Empty(t, w.House.Asked(&settlementv1.ExportJournalRequest{}))
}
