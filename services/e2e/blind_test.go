package e2e

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os/exec"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"barrelhead.example/deploy/season"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

// TestTheLaboratoryIsBlind walks every page a technician can reach and asks every list the laboratory has, after a season
// with appeals, composites and residues, and finds no member, number, ticket or drum in anything, PDFs included.
func TestTheLaboratoryIsBlind(t *testing.T) {
	t.Parallel()
	w := newWorld(t, season.Size{Members: 6, Barrels: 40})
	require.NoError(t, w.crew.Work(t.Context(), w.client, "admin", season.Password))
	require.NoError(t, w.crew.ScreenResidues(t.Context()))
	secrets := whoseItIs(t, w)
	require.Greater(t, len(secrets), 60)
	for _, login := range []string{"lab", "lead"} {
		b := &walker{world: w, secrets: secrets, seen: map[string]bool{}, client: signedIn(t, w.URL, login)}
		// The lead also releases holds, which name barrels in stock: those are the warehouse's pages.
		b.walk(t, "/bench")
		for _, start := range []string{"/certificates", "/appeals", "/composites", "/outside", "/controls", "/duplicates", "/bias", "/views", "/portions", "/samples"} {
			b.walk(t, start)
		}
		for _, list := range []string{
			"samples", "certificates", "appeals", "composites", "outsideResults", "controls", "duplicates", "views", "controls:bias", "certificates:check",
			"analytes", "standards", "signingKeys", "portionsDue",
		} {
			b.read(t, "/v1/"+list+map[bool]string{true: "?page_size=1000"}[!strings.Contains(list, ":") && list != "controls" && list != "analytes" && list != "standards" && list != "signingKeys"])
		}
		require.Greater(t, b.pages, 60, "%s read %d pages", login, b.pages)
		require.Positive(t, b.papers, "no PDF was searched")
		// Whoever judges jars does not trace them.
		answer, err := b.client.Get(b.URL + "/v1/trace?name=packLots/FC0")
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		require.Equal(t, http.StatusForbidden, answer.StatusCode, login)
	}
}

// whoseItIs is everything that would say whose honey a jar holds.
func whoseItIs(t *testing.T, w *world) []string {
	t.Helper()
	var secrets []string
	for _, m := range w.crew.Season.Members {
		secrets = append(secrets, m.Number[strings.LastIndex(m.Number, "/")+1:], m.Name)
	}
	var tickets intakev1.ListTicketsResponse
	require.NoError(t, w.crew.Session("office").Get(t.Context(), "/v1/tickets?page_size=1000", &tickets))
	for _, listed := range tickets.GetTickets() {
		var ticket intakev1.Ticket
		require.NoError(t, w.crew.Session("office").Get(t.Context(), "/v1/"+listed.GetName(), &ticket))
		secrets = append(secrets, strings.TrimPrefix(ticket.GetName(), "tickets/"), ticket.GetNumber())
		for _, b := range ticket.GetBarrels() {
			secrets = append(secrets, strings.TrimPrefix(b.GetName(), "barrels/"), b.GetDrumTag())
		}
	}
	var known []string
	for _, s := range secrets {
		if s != "" {
			known = append(known, s)
		}
	}
	return known
}

// walker follows every link within the laboratory's rooms.
type walker struct {
	*world
	client        *http.Client
	secrets       []string
	seen          map[string]bool
	pages, papers int
}

var (
	link = regexp.MustCompile(`href="([^"#]+)"`)
	room = regexp.MustCompile(`^/(bench|certificates|appeals|composites|outside|controls|duplicates|bias|views|portions|samples|v1/certificates|v1/samples)\b`)
)

const mostPages = 150

func (b *walker) walk(t *testing.T, path string) {
	t.Helper()
	path = strings.ReplaceAll(path, "&amp;", "&")
	if b.seen[path] || len(b.seen) > mostPages || !room.MatchString(path) {
		return
	}
	b.seen[path] = true
	for _, found := range link.FindAllStringSubmatch(string(b.read(t, path)), -1) {
		b.walk(t, found[1])
	}
}

// read searches one answer.
func (b *walker) read(t *testing.T, path string) []byte {
	t.Helper()
	answer, err := b.client.Get(b.URL + path)
	require.NoError(t, err)
	body, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Contains(t, []int{http.StatusOK, http.StatusForbidden, http.StatusNotFound}, answer.StatusCode, "%s: %s", path, body)
	text := body
	if bytes.HasPrefix(body, []byte("%PDF")) {
		text = textOf(t, body)
		b.papers++
	}
	b.pages++
	for _, secret := range b.secrets {
		require.NotContains(t, string(text), secret, path)
	}
	return body
}

func textOf(t *testing.T, pdf []byte) []byte {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), "pdftotext", "-layout", "-", "-")
	cmd.Stdin = bytes.NewReader(pdf)
	text, err := cmd.Output()
	require.NoError(t, err)
	require.NotEmpty(t, text)
	return text
}

// signedIn signs a login in on the pages.
func signedIn(t *testing.T, address, login string) *http.Client {
	t.Helper()
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	c := &http.Client{Jar: jar, Timeout: time.Minute}
	answer, err := c.Get(address + "/sign-in")
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	answer, err = c.PostForm(address+"/sign-in", url.Values{"login": {login}, "password": {season.Password}})
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Equal(t, http.StatusOK, answer.StatusCode, fmt.Sprint(answer.Request.URL))
	return c
}
