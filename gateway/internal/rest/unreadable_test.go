package rest_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
)

func TestWhatCannotBeReadIsSaidInTheWordsOfTheRequest(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	dock, admin := callerOf(t, w, w.Token("dock1")), callerOf(t, w, w.Token("admin"))
	for _, c := range []struct {
		by                               *caller
		method, path, body, field, words string
	}{
		{dock, "GET", "/v1/tickets?page_size=many", "", "page_size", `is "many", must be a whole number that is not too large`},
		{dock, "GET", "/v1/tickets?page_size=2147483648", "", "page_size", `is "2147483648", must be a whole number that is not too large`},
		{dock, "GET", "/v1/tickets?page_size=" + strings.Repeat("9", 9000), "", "page_size", `is "` + strings.Repeat("9", 39) + `…, must be a whole number that is not too large`},
		{dock, "GET", "/v1/ticketNumbers/soon", "", "year", `is "soon", must be a whole number that is not too large`},
		{dock, "GET", "/v1/scaleReviews?open_only=maybe", "", "open_only", `is "maybe", must be true or false`},
		{dock, "POST", "/v1/tickets", `{"crop_year":"soon"}`, "crop_year", `is "soon", must be a whole number that is not too large`},
		{dock, "POST", "/v1/tickets", `{"cropYear":2147483648}`, "crop_year", "is 2147483648, must be a whole number that is not too large"},
		{dock, "POST", "/v1/tickets", `{"member":12}`, "member", "is 12, must be text in quotes"},
		{dock, "POST", "/v1/tickets", `{"harvest_declared":"yes"}`, "harvest_declared", `is "yes", must be true or false`},
		{dock, "POST", "/v1/tickets", `{"membre":12}`, "membre", "is not a field of this request; see /v1/openapi.json"},
		{dock, "POST", "/v1/drums", `{"drum":{"condition":"RUSTED"}}`, "drum", "is not a field of this request; see /v1/openapi.json"},
		{dock, "POST", "/v1/stock/x/holds", `{"code":"HOLD_CODE_MOOD"}`, "code", `is "HOLD_CODE_MOOD", must be one of its names, which /v1/openapi.json lists`},
		{admin, "POST", "/v1/logins", `{"login":12}`, "login", "is number, must be text in quotes"},
	} {
		got := c.by.refused(c.method, c.path, c.body, 400, "INVALID_ARGUMENT", "FIELD_INVALID")
		require.Equal(t, []string{c.field}, faulty(got), "%s %s: %s", c.path, c.body, got.Message)
		require.Equal(t, c.words, got.Fields[0].Message)
	}
}
