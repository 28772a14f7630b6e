package web_test

import (
	"html"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

func plain() *http.Client {
	return &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

func TestSignIn_GivesACookieNoScriptCanRead(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	w.Add("juniper")
	answer, _ := post(t, plain(), w.URL+"/sign-in", url.Values{"login": {"juniper"}, "password": {gatetest.Password}, "next": {"/tickets?state=open"}})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	require.Equal(t, "/tickets?state=open", answer.Header.Get("Location"))
	require.Len(t, answer.Cookies, 1)
	cookie := answer.Cookies[0]
	require.Equal(t, "barrelhead", cookie.Name)
	require.True(t, cookie.HttpOnly)
	require.Equal(t, http.SameSiteStrictMode, cookie.SameSite)
	require.Equal(t, "/", cookie.Path)
	require.Equal(t, 7*24*3600, cookie.MaxAge)
	require.Empty(t, cookie.Domain)
}

func TestSignIn_LeadsNowhereElse(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	w.Add("juniper")
	for _, next := range []string{"https://elsewhere.example/", "//elsewhere.example", `/\elsewhere.example`, "javascript:alert(1)", "", "/\t/elsewhere.example"} {
		answer, _ := post(t, plain(), w.URL+"/sign-in", url.Values{"login": {"juniper"}, "password": {gatetest.Password}, "next": {next}})
		require.Equal(t, "/", answer.Header.Get("Location"), next)
	}
}

func TestSignIn_RefusesWithoutSayingWhich(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	w.Add("juniper")
	answer, wrong := post(t, plain(), w.URL+"/sign-in", url.Values{"login": {"juniper"}, "password": {"my own secret"}})
	require.Equal(t, http.StatusUnauthorized, answer.StatusCode)
	require.NotContains(t, wrong, "my own secret")
	require.Contains(t, wrong, `value="juniper"`)
	_, unknown := post(t, plain(), w.URL+"/sign-in", url.Values{"login": {"nobody9"}, "password": {"my own secret"}})
	require.Equal(t, wrong, strings.ReplaceAll(unknown, "nobody9", "juniper"))
	for range 4 {
		post(t, plain(), w.URL+"/sign-in", url.Values{"login": {"juniper"}, "password": {"my own secret"}})
	}
	answer, body := post(t, plain(), w.URL+"/sign-in", url.Values{"login": {"juniper"}, "password": {gatetest.Password}})
	require.Equal(t, http.StatusTooManyRequests, answer.StatusCode)
	require.Equal(t, "900", answer.Header.Get("Retry-After"))
	require.Contains(t, body, "Too many failed sign-ins; try again in 15 min")
}

func TestSignIn_OfAForeignPageIsRefused(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	w.Add("juniper")
	form := url.Values{"login": {"juniper"}, "password": {gatetest.Password}}
	request, err := http.NewRequestWithContext(t.Context(), http.MethodPost, w.URL+"/sign-in", strings.NewReader(form.Encode()))
	require.NoError(t, err)
	request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	request.Header.Set("Sec-Fetch-Site", "cross-site")
	answer, err := plain().Do(request)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Equal(t, http.StatusForbidden, answer.StatusCode)
	require.Empty(t, answer.Cookies())
}

func TestSignOut_EndsTheSessionOnTheServer(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("juniper")
	address, err := url.Parse(w.URL)
	require.NoError(t, err)
	kept := client.Jar.Cookies(address)
	answer, _ := post(t, client, w.URL+"/sign-out", url.Values{})
	require.Equal(t, http.StatusForbidden, answer.StatusCode, "a foreign page cannot sign anybody out")
	_, body := open(t, client, w.URL+"/me")
	answer, _ = post(t, client, w.URL+"/sign-out", url.Values{"form_token": {hidden(t, body, "form_token")}})
	require.Equal(t, "/sign-in", answer.Header.Get("Location"))
	client.Jar.SetCookies(address, kept)
	answer, _ = open(t, client, w.URL+"/me")
	require.Equal(t, http.StatusSeeOther, answer.StatusCode, "a cookie that was copied is of no use")
}

func TestSignIn_KeepsWhatWasTypedWhenASessionEnds(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("dock1")
	address, err := url.Parse(w.URL)
	require.NoError(t, err)
	fields := weighing()
	_, form := open(t, client, w.URL+weighPage)
	fields.Set("form_token", hidden(t, form, "form_token"))
	fields.Set("request_id", hidden(t, form, "request_id"))
	fields.Set("password", "no secret goes into an address")
	client.Jar.SetCookies(address, []*http.Cookie{{Name: "barrelhead", Value: "ended"}})
	answer, body := post(t, client, w.URL+weighPage, fields)
	require.Equal(t, http.StatusUnauthorized, answer.StatusCode)
	require.Contains(t, body, "what you typed is kept")
	next := html.UnescapeString(hidden(t, body, "next"))
	require.NotContains(t, next, "secret")
	require.NotContains(t, next, "form_token")

	answer, _ = post(t, client, w.URL+"/sign-in", url.Values{"login": {"dock1"}, "password": {gatetest.Password}, "next": {next}})
	require.Equal(t, next, answer.Header.Get("Location"))
	_, body = open(t, client, w.URL+next)
	require.Contains(t, body, `value="fc-04433"`)
	require.Contains(t, body, `value="basswood"`)
	require.Empty(t, w.House.Asked(&intakev1.WeighBarrelRequest{}), "the button is pressed again by whoever signed in")

	fields.Set("note", strings.Repeat("long ", 3000))
	_, body = post(t, plain(), w.URL+weighPage, fields)
	require.Equal(t, weighPage, hidden(t, body, "next"), "no more than an address holds")
}

func TestLogins_AreKeptOnPages(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("admin")
	answer, body := send(t, client, w.URL+"/logins/new", url.Values{"login": {"dock2"}, "password": {"four spoons of clover"}, "roles": {"DOCK", "OFFICE"}})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode, body)
	answer, body = send(t, client, w.URL+"/logins/new", url.Values{"login": {"dock3"}, "password": {"short"}})
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.NotContains(t, body, `value="short"`)
	_, body = open(t, client, w.URL+"/logins")
	require.Contains(t, body, "dock and office")

	token, _, err := w.Keeper.SignIn(t.Context(), "dock2", "four spoons of clover", "192.0.2.3")
	require.NoError(t, err)
	answer, _ = send(t, client, w.URL+"/logins/dock2", url.Values{"do": {"deactivate"}})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	_, err = w.Keeper.Identify(t.Context(), token)
	require.Error(t, err)
	answer, body = send(t, client, w.URL+"/logins/admin", url.Values{"do": {"deactivate"}})
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "This is the last active administrator")
	for _, change := range []url.Values{{"do": {"activate"}}, {"do": {"password"}, "password": {"five spoons of clover"}}, {"do": {"roles"}, "roles": {"LAB"}}} {
		answer, _ = send(t, client, w.URL+"/logins/dock2", change)
		require.Equal(t, http.StatusSeeOther, answer.StatusCode, change)
	}
}

func TestPassword_IsChangedByItsOwner(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("juniper")
	answer, body := send(t, client, w.URL+"/password", url.Values{"current_password": {gatetest.Password}, "password": {"four spoons of clover"}, "again": {"four spoons of sage"}})
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "The two new passwords differ.")
	require.NotContains(t, body, "four spoons")
	answer, _ = send(t, client, w.URL+"/password", url.Values{"current_password": {gatetest.Password}, "password": {"four spoons of clover"}, "again": {"four spoons of clover"}})
	require.Equal(t, "/sign-in", answer.Header.Get("Location"))
	_, _, err := w.Keeper.SignIn(t.Context(), "juniper", "four spoons of clover", "192.0.2.3")
	require.NoError(t, err)
}
