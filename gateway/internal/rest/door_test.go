package rest_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	"barrelhead.example/gateway/internal/session"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

func TestSessions_BeginAndEnd(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	w.Add("juniper")
	c := callerOf(t, w, "")
	c.refused("POST", "/v1/sessions", `{"login":"juniper","password":"a wrong password"}`, 401, "UNAUTHENTICATED", "UNAUTHENTICATED")
	c.refused("POST", "/v1/sessions", `{"login":"juniper","pasword":"x"}`, 400, "INVALID_ARGUMENT", "FIELD_INVALID")
	answer, read := c.send("POST", "/v1/sessions", fmt.Sprintf(`{"login":"juniper","password":%q}`, gatetest.Password))
	require.Equal(t, http.StatusOK, answer.StatusCode)
	require.Empty(t, answer.Cookies, "a program's token is not put where pages could use it")
	token, ok := read["token"].(string)
	require.True(t, ok)
	require.Len(t, token, 43)
	c.token = token
	_, read = c.send("GET", "/v1/sessions/current", "")
	require.Equal(t, map[string]any{
		"login": "juniper", "roles": []any{"MEMBER"}, "member": gatetest.Juniper, "expire_time": "2026-09-21T12:05:00Z",
	}, read)
	answer, _ = c.send("DELETE", "/v1/sessions/current", "")
	require.Equal(t, http.StatusOK, answer.StatusCode)
	c.refused("GET", "/v1/sessions/current", "", 401, "UNAUTHENTICATED", "UNAUTHENTICATED")
	c.refused("GET", "/v1/members/M-0012/total", "", 401, "UNAUTHENTICATED", "UNAUTHENTICATED")
}

func TestSessions_TooManyFailures(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	w.Add("juniper")
	c := callerOf(t, w, "")
	for range 5 {
		c.refused("POST", "/v1/sessions", `{"login":"juniper","password":"a wrong password"}`, 401, "UNAUTHENTICATED", "UNAUTHENTICATED")
	}
	right := fmt.Sprintf(`{"login":"juniper","password":%q}`, gatetest.Password)
	// An untrusted caller cannot choose its address.
	c.header.Set("X-Forwarded-For", "203.0.113.9")
	c.refused("POST", "/v1/sessions", right, 429, "RESOURCE_EXHAUSTED", "UNAVAILABLE")
	answer, _ := c.send("POST", "/v1/sessions", right)
	require.Equal(t, "900", answer.Header.Get("Retry-After"))
}

func TestLogins_AreKeptByAdministrators(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	c := callerOf(t, w, w.Token("admin"))
	answer, made := c.send("POST", "/v1/logins", `{"login":"dock2","password":"four spoons of clover","roles":["DOCK","OFFICE"]}`)
	require.Equal(t, http.StatusOK, answer.StatusCode, made)
	require.Equal(t, map[string]any{"login": "dock2", "roles": []any{"DOCK", "OFFICE"}, "member": "", "active": true, "create_time": "2026-09-14T12:05:00Z"}, made)
	c.refused("POST", "/v1/logins", `{"login":"dock2","password":"four spoons of clover","roles":["DOCK"]}`, 409, "ALREADY_EXISTS", "ALREADY_EXISTS")
	got := c.refused("POST", "/v1/logins", `{"login":"X","password":"short","roles":[]}`, 400, "INVALID_ARGUMENT", "FIELD_INVALID")
	require.ElementsMatch(t, []string{"login", "password", "roles"}, faulty(got))
	c.refused("POST", "/v1/logins", `{"login":"dock3","password":"four spoons of clover","roles":["KING"]}`, 400, "INVALID_ARGUMENT", "FIELD_INVALID")

	_, listed := c.send("GET", "/v1/logins?pageSize=1", "")
	require.Len(t, listed["logins"], 1)
	_, listed = c.send("GET", fmt.Sprintf("/v1/logins?pageSize=5&pageToken=%s", listed["next_page_token"]), "")
	require.Len(t, listed["logins"], 1)
	require.Empty(t, listed["next_page_token"])
	c.refused("GET", "/v1/logins?size=5", "", 400, "INVALID_ARGUMENT", "FIELD_INVALID")

	dock := callerOf(t, w, signIn(t, w, "dock2", "four spoons of clover"))
	dock.refused("GET", "/v1/logins", "", 403, "PERMISSION_DENIED", "NOT_ALLOWED")
	dock.refused("GET", "/v1/logins/admin", "", 403, "PERMISSION_DENIED", "NOT_ALLOWED")
	dock.refused("POST", "/v1/logins/admin:setPassword", `{"password":"four spoons of clover"}`, 403, "PERMISSION_DENIED", "NOT_ALLOWED")
	dock.refused("POST", "/v1/logins/dock2:setRoles", `{"roles":["ADMINISTRATOR"]}`, 403, "PERMISSION_DENIED", "NOT_ALLOWED")
	dock.refused("POST", "/v1/logins/dock2:setPassword", `{"password":"five spoons of clover"}`, 400, "INVALID_ARGUMENT", "FIELD_INVALID")

	_, changed := c.send("POST", "/v1/logins/dock2:setRoles", `{"roles":["LAB"]}`)
	require.Equal(t, []any{"LAB"}, changed["roles"])
	dock.refused("GET", "/v1/sessions/current", "", 401, "UNAUTHENTICATED", "UNAUTHENTICATED")
	_, changed = c.send("POST", "/v1/logins/dock2:deactivate", "")
	require.Equal(t, false, changed["active"])
	_, changed = c.send("POST", "/v1/logins/dock2:activate", `{}`)
	require.Equal(t, true, changed["active"])
	c.refused("POST", "/v1/logins/admin:deactivate", "", 400, "FAILED_PRECONDITION", "STATE_FORBIDS")
	c.refused("POST", "/v1/logins/dock2:crown", "", 404, "NOT_FOUND", "NOT_FOUND")
	c.refused("POST", "/v1/logins/nobody:deactivate", "", 404, "NOT_FOUND", "NOT_FOUND")
}

func TestLogins_ChangeTheirOwnPassword(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	c := callerOf(t, w, w.Token("dock1"))
	answer, _ := c.send("POST", "/v1/logins/dock1:setPassword", fmt.Sprintf(`{"current_password":%q,"password":"four spoons of clover"}`, gatetest.Password))
	require.Equal(t, http.StatusOK, answer.StatusCode)
	c.refused("GET", "/v1/sessions/current", "", 401, "UNAUTHENTICATED", "UNAUTHENTICATED")
	require.NotEmpty(t, signIn(t, w, "dock1", "four spoons of clover"))
}

func signIn(t *testing.T, w *gatetest.World, login, password string) string {
	t.Helper()
	token, _, err := w.Keeper.SignIn(t.Context(), login, password, "192.0.2.2")
	require.NoError(t, err)
	return token
}

func TestCookie_NeedsTheFormTokenToWrite(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	token := w.Token("dock1")
	c := callerOf(t, w, "")
	c.header.Set("Cookie", "barrelhead="+token)
	body := fmt.Sprintf(`{"request_id":%q,"member":"members/M-0012","crop_year":2026}`, requestID)
	answer, _ := c.send("GET", "/v1/tickets", "")
	require.Equal(t, http.StatusOK, answer.StatusCode)
	c.refused("POST", "/v1/tickets", body, 403, "PERMISSION_DENIED", "NOT_ALLOWED")
	c.header.Set("X-Form-Token", session.FormToken("another session"))
	c.refused("POST", "/v1/tickets", body, 403, "PERMISSION_DENIED", "NOT_ALLOWED")
	c.header.Set("X-Form-Token", session.FormToken(token))
	c.header.Set("Sec-Fetch-Site", "cross-site")
	c.refused("POST", "/v1/tickets", body, 403, "PERMISSION_DENIED", "NOT_ALLOWED")
	require.Empty(t, w.House.Asked(&intakev1.OpenTicketRequest{}))
	c.header.Set("Sec-Fetch-Site", "same-origin")
	answer, _ = c.send("POST", "/v1/tickets", body)
	require.Equal(t, http.StatusOK, answer.StatusCode)
}

func TestAuthorization_OtherSchemesAreRefused(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	c := callerOf(t, w, "")
	c.header.Set("Cookie", "barrelhead="+w.Token("dock1"))
	for _, header := range []string{"Basic ZG9jazE6eA==", "Bearer", "Bearer nonsense"} {
		c.header.Set("Authorization", header)
		c.refused("GET", "/v1/tickets", "", 401, "UNAUTHENTICATED", "UNAUTHENTICATED")
	}
}

func TestLogs_HoldNoSecrets(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	c := callerOf(t, w, w.Token("admin"))
	c.send("POST", "/v1/sessions", fmt.Sprintf(`{"login":"admin","password":%q}`, gatetest.Password))
	c.send("POST", "/v1/logins", `{"login":"dock2","password":"four spoons of clover","roles":["DOCK"]}`)
	c.send("GET", "/v1/tickets?page_token=looks-secret", "")
	lines := w.Logs.FilterMessage("request").All()
	require.Len(t, lines, 3)
	require.Equal(t, "admin", lines[1].ContextMap()["login"])
	var all strings.Builder
	for _, line := range w.Logs.All() {
		fmt.Fprintln(&all, line.Message, line.ContextMap())
	}
	for _, secret := range []string{c.token, gatetest.Password, "four spoons", "looks-secret"} {
		require.NotContains(t, all.String(), secret)
	}
}
