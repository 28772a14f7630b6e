package rest_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/edge"
	"barrelhead.example/gateway/internal/gatetest"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

const otherID = "6f1c2a60-0000-4000-8000-000000000002"

func TestBody_IsReadStrictly(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	c := callerOf(t, w, w.Token("dock1"))
	for name, test := range map[string]struct{ body, field string }{
		"unknown field":         {`{"request_id":"` + requestID + `","membre":"members/M-0012"}`, "membre"},
		"a field twice":         {`{"member":"members/M-0012","member":"members/M-0007"}`, "member"},
		"twice, further in":     {`{"request_id":"` + requestID + `","a":[{"b":{"c":1,"c":2}}]}`, "c"},
		"both spellings":        {`{"request_id":"` + requestID + `","requestId":"` + otherID + `"}`, "body"},
		"not JSON":              {`{"member":`, "body"},
		"a list":                {`[]`, "body"},
		"nothing":               {`null`, "body"},
		"something after it":    {`{"request_id":"` + requestID + `"} {}`, "body"},
		"a number for the text": {`{"member":12}`, "member"},
		"a text for the number": {`{"member":"members/M-0012","cropYear":"soon"}`, "crop_year"},
	} {
		got := c.refused("POST", "/v1/tickets", test.body, 400, "INVALID_ARGUMENT", "FIELD_INVALID")
		require.Equal(t, []string{test.field}, faulty(got), "%s: %s", name, got.Message)
	}
	require.Empty(t, w.House.Asked(&intakev1.OpenTicketRequest{}))
}

func TestBody_MustBeJSONAndNotTooLarge(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	c := callerOf(t, w, w.Token("dock1"))
	got := c.refused("POST", "/v1/tickets", `{"hauler":"`+strings.Repeat("x", edge.MostBody)+`"}`, 413, "INVALID_ARGUMENT", "FIELD_INVALID")
	require.Equal(t, map[string]string{"limit_bytes": "1048576"}, got.Metadata)
	c.header.Set("Content-Type", "text/plain")
	c.refused("POST", "/v1/tickets", `{}`, 400, "INVALID_ARGUMENT", "FIELD_INVALID")
	c.header.Set("Content-Type", "application/x-www-form-urlencoded")
	c.refused("POST", "/v1/tickets", `member=members/M-0012`, 400, "INVALID_ARGUMENT", "FIELD_INVALID")
	require.Empty(t, w.House.Asked(&intakev1.OpenTicketRequest{}))
}

func TestBody_TakesTheRequestIDFromTheHeader(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	c := callerOf(t, w, w.Token("dock1"))
	c.header.Set("Idempotency-Key", requestID)
	for _, body := range []string{
		`{"member":"members/M-0012","crop_year":2026}`,
		`{"member":"members/M-0012","crop_year":2026,"request_id":"` + requestID + `"}`,
		`{"member":"members/M-0012","cropYear":2026,"requestId":"` + requestID + `"}`,
	} {
		answer, read := c.send("POST", "/v1/tickets", body)
		require.Equal(t, 200, answer.StatusCode, read)
	}
	for _, asked := range w.House.Asked(&intakev1.OpenTicketRequest{}) {
		request, ok := asked.Request.(*intakev1.OpenTicketRequest)
		require.True(t, ok)
		require.Equal(t, requestID, request.GetRequestId())
	}
	require.Len(t, w.House.Asked(&intakev1.OpenTicketRequest{}), 3)
	got := c.refused("POST", "/v1/tickets", `{"member":"members/M-0012","crop_year":2026,"request_id":"`+otherID+`"}`, 400, "INVALID_ARGUMENT", "FIELD_INVALID")
	require.Equal(t, []string{"request_id"}, faulty(got))
}
