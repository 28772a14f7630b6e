package e2e

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"

	"barrelhead.example/deploy/season"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/browsertest"
)

// cable is the network between a page and the house: it can be cut and mended at any moment, open connections included.
type cable struct {
	t      *testing.T
	target string
	// Addr is where the page believes the house to be; it stays the same over cuts.
	Addr string

	mu    sync.Mutex
	lis   net.Listener
	conns map[net.Conn]bool
	// losing breaks the cable after the next weight has gone through and before its answer comes back; broken is closed then.
	losing, lost bool
	broken       chan struct{}
}

func newCable(t *testing.T, house string) *cable {
	t.Helper()
	target, err := url.Parse(house)
	require.NoError(t, err)
	c := &cable{t: t, target: target.Host, Addr: "127.0.0.1:0", conns: map[net.Conn]bool{}}
	c.mend()
	t.Cleanup(c.cut)
	return c
}

// mend listens again at the same address.
func (c *cable) mend() {
	c.t.Helper()
	lis, err := (&net.ListenConfig{}).Listen(c.t.Context(), "tcp", c.Addr)
	require.NoError(c.t, err)
	c.mu.Lock()
	c.lis, c.Addr = lis, lis.Addr().String()
	c.mu.Unlock()
	go func() {
		for {
			page, err := lis.Accept()
			if err != nil {
				return
			}
			go c.join(page)
		}
	}()
}

// cut refuses new connections and breaks those that are open.
func (c *cable) cut() {
	c.mu.Lock()
	defer c.mu.Unlock()
	_ = c.lis.Close() // closed twice at the end of a test
	for conn := range c.conns {
		_ = conn.Close()
	}
	c.conns = map[net.Conn]bool{}
}

func (c *cable) loseAnswer() <-chan struct{} {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.losing, c.broken = true, make(chan struct{})
	return c.broken
}

func (c *cable) join(page net.Conn) {
	house, err := (&net.Dialer{}).DialContext(c.t.Context(), "tcp", c.target)
	if err != nil {
		_ = page.Close()
		return
	}
	c.mu.Lock()
	c.conns[page], c.conns[house] = true, true
	c.mu.Unlock()
	go func() {
		_, _ = io.Copy(calls{c, house}, page) // either side ends when the cable is cut
		_ = house.Close()
	}()
	_, _ = io.Copy(answers{c, page}, house)
	_ = page.Close()
}

// calls are the bytes from the page to the house.
type calls struct {
	cable *cable
	house net.Conn
}

func (w calls) Write(b []byte) (int, error) {
	w.cable.mu.Lock()
	// The first try of a typed weight is answered by a question for the reason; the second one puts it on the ticket.
	if w.cable.losing && bytes.Contains(b, []byte(`"reason":"read from the display"`)) {
		w.cable.losing, w.cable.lost = false, true
	}
	w.cable.mu.Unlock()
	return w.house.Write(b)
}

// answers are the bytes from the house to the page.
type answers struct {
	cable *cable
	page  net.Conn
}

func (w answers) Write(b []byte) (int, error) {
	w.cable.mu.Lock()
	lost := w.cable.lost
	w.cable.lost = false
	w.cable.mu.Unlock()
	if lost {
		w.cable.cut()
		close(w.cable.broken)
		return 0, net.ErrClosed
	}
	return w.page.Write(b)
}

func browser(t *testing.T) context.Context {
	t.Helper()
	options, err := browsertest.Options()
	require.NoError(t, err)
	limit, cancel := context.WithTimeout(t.Context(), 5*time.Minute)
	allocator, cancelAllocator := chromedp.NewExecAllocator(limit, options...)
	tab, cancelTab := chromedp.NewContext(allocator)
	t.Cleanup(func() {
		cancelTab()
		cancelAllocator()
		cancel()
	})
	return tab
}

// clerk is somebody at the dock with a tablet.
type clerk struct {
	t    *testing.T
	tab  context.Context
	base string
}

func (c clerk) do(actions ...chromedp.Action[chromedp.Void]) {
	c.t.Helper()
	require.NoError(c.t, chromedp.Do(c.tab, actions...))
}

func (c clerk) open(path string) {
	c.t.Helper()
	c.do(chromedp.Navigate(c.base + path))
	c.settle()
}

// settle waits until the page has done what it does at first.
func (c clerk) settle() {
	c.t.Helper()
	c.do(chromedp.WaitReady(chromedp.CSS(`html[data-dock=ready]`)))
}

// says waits until an element says something.
func (c clerk) says(selector, words string) {
	c.t.Helper()
	quoted, err := json.Marshal([]string{selector, words})
	require.NoError(c.t, err)
	c.until(fmt.Sprintf(`((q) => (document.querySelector(q[0])?.innerText ?? "").includes(q[1]))(%s)`, quoted), selector+" says "+words)
}

// until asks again and again, over pages that come and go.
func (c clerk) until(condition, what string) {
	c.t.Helper()
	again := time.NewTicker(50 * time.Millisecond)
	defer again.Stop()
	for deadline := time.Now().Add(60 * time.Second); time.Now().Before(deadline); <-again.C {
		if met, err := chromedp.Run(c.tab, chromedp.Evaluate[bool](condition)); err == nil && met {
			return
		}
	}
	seen, _ := chromedp.Run(c.tab, chromedp.Evaluate[string](`location.href + "\n" + document.body.innerText`))
	require.Fail(c.t, what, "the page says:\n%s", seen)
}

// weigh types one barrel into the form in front of the clerk and sends it with the keyboard.
func (c clerk) weigh(barrel int) {
	c.t.Helper()
	c.do(chromedp.Focus(chromedp.CSS("#f-drum_tag")), chromedp.KeyEvent(fmt.Sprintf("fc-7%02d", barrel)+kb.Tab+"684.5"+kb.Tab+"43.0"+kb.Enter))
}

const forget = `(async () => {
  const database = await new Promise((done) => { indexedDB.open("barrelhead-dock").onsuccess = (e) => done(e.target.result); });
  const step = database.transaction("entries", "readwrite");
  const store = step.objectStore("entries");
  store.getAll().onsuccess = (e) => { for (const entry of e.target.result) store.put({ ...entry, state: "waiting", answer: undefined }); };
  await new Promise((done) => { step.oncomplete = done; });
  return true;
})()`

// The network between page and house is cut after barrel 9 of 24. The clerk goes on, reloads the page, and even starts it
// anew; one answer is lost on the way; everything is sent twice. There is one ticket with 24 lines.
func TestOffline_TheClerkFinishesWhileTheNetworkIsCut(t *testing.T) {
	t.Parallel()
	w := newWorld(t, season.Size{Members: 6})
	wire := newCable(t, w.URL)
	c := clerk{t: t, tab: browser(t), base: "http://" + wire.Addr}

	c.do(chromedp.Navigate(c.base+"/sign-in"), chromedp.WaitVisible(chromedp.CSS("#password")))
	_, err := chromedp.RunResponse(c.tab, chromedp.KeyEvent("dock"+kb.Tab+season.Password+kb.Enter))
	require.NoError(t, err)
	c.open("/tickets/new")
	c.do(chromedp.KeyEvent("M-0001" + kb.Enter))
	c.says("h1", "First barrel")
	page, err := chromedp.Run(c.tab, chromedp.Location())
	require.NoError(t, err)
	path := strings.TrimPrefix(page, c.base)
	for barrel := 1; barrel <= 9; barrel++ {
		c.open(path)
		c.do(chromedp.Click(chromedp.CSS(`label[for="c-variety-0"]`)))
		c.weigh(barrel)
		c.says("main", "Now draw the sample")
	}
	c.open(path)
	c.until(`navigator.serviceWorker.controller !== null`, "the worker stands before the page")

	wire.cut()
	for barrel := 10; barrel <= 12; barrel++ {
		c.weigh(barrel)
		c.says("#away-banner", fmt.Sprintf("Saved on this device, %d not yet sent.", barrel-9))
	}
	c.do(chromedp.Reload())
	c.settle()
	c.says("#away-head", "Saved on this device, 3 not yet sent.")
	for barrel := 13; barrel <= 24; barrel++ {
		c.weigh(barrel)
		c.says("#away-head", fmt.Sprintf("Saved on this device, %d not yet sent.", barrel-9))
	}
	c.do(chromedp.Navigate("about:blank"))
	c.open("/dock")
	c.says("#away-head", "Saved on this device, 15 not yet sent.")
	c.says("#away-note", "The house does not answer.")

	wire.mend()
	broken := wire.loseAnswer()
	c.do(chromedp.Click(chromedp.CSS("#away-send")))
	select {
	case <-broken:
	case <-time.After(time.Minute):
		require.Fail(t, "no weight was sent")
	}
	require.Len(t, w.ticket(t, path).GetBarrels(), 10, "the weight whose answer was lost has arrived")

	wire.mend()
	c.do(chromedp.Click(chromedp.CSS("#away-send")))
	c.says("#away-head", "Everything on this device has arrived.")
	c.says("#away-sent", "line 24 of the ticket")
	first := w.ticket(t, path)

	forgot, err := chromedp.Run(c.tab, chromedp.Evaluate[bool](forget, chromedp.EvalAwaitPromise))
	require.NoError(t, err)
	require.True(t, forgot)
	c.open("/dock/away")
	c.says("#away-head", "Everything on this device has arrived.")
	c.says("#away-sent", "line 24 of the ticket")

	found := w.ticket(t, path)
	require.Len(t, found.GetBarrels(), 24)
	require.Equal(t, first.GetEtag(), found.GetEtag(), "what is sent again changes nothing")
	for i, b := range found.GetBarrels() {
		require.Equal(t, int32(i+1), b.GetLine())
		require.Equal(t, fmt.Sprintf("FC-7%02d", i+1), b.GetDrumTag(), "in the order they were weighed")
	}
	var all intakev1.ListTicketsResponse
	require.NoError(t, w.session(t, "office").Get(t.Context(), "/v1/tickets", &all))
	require.Len(t, all.GetTickets(), 1)

	refusedIsKept(t, w, wire, c)
}

// refusedIsKept opens a delivery while the network is cut and puts a drum on it that is full already.
func refusedIsKept(t *testing.T, w *world, wire *cable, c clerk) {
	t.Helper()
	wire.cut()
	c.open("/tickets/new")
	c.do(chromedp.Focus(chromedp.CSS("#f-member")), chromedp.KeyEvent("2"+kb.Enter))
	c.says("#away-ticket", "Weigh for 2, no number yet")
	c.settle()
	path, err := chromedp.Run(c.tab, chromedp.Evaluate[string]("location.pathname"))
	require.NoError(t, err)
	c.do(chromedp.Click(chromedp.CSS(`#away-weigh label[for="c-variety-0"]`)))
	c.weigh(24)
	c.says("#away-head", "2 not yet sent")
	c.weigh(25)
	c.says("#away-head", "3 not yet sent")

	wire.mend()
	c.do(chromedp.Click(chromedp.CSS("#away-send")))
	c.says("#away-head", "1 was refused: correct it.")
	c.says("#away-refused", "FC-724")
	found := w.ticket(t, path)
	require.Regexp(t, `^FC-\d{4}-000002$`, found.GetNumber())
	require.Len(t, found.GetBarrels(), 1)

	c.do(chromedp.Click(chromedp.CSS("#away-refused button")))
	c.do(chromedp.SetValue(chromedp.CSS("#f-drum_tag"), "FC-726"), chromedp.Focus(chromedp.CSS("#f-reason")), chromedp.KeyEvent(kb.Enter))
	c.says("#away-head", "Everything on this device has arrived.")
	found = w.ticket(t, path)
	require.Len(t, found.GetBarrels(), 2)
	require.Equal(t, "FC-726", found.GetBarrels()[1].GetDrumTag())
}

// ticket reads the ticket of a page of the dock.
func (w *world) ticket(t *testing.T, page string) *intakev1.Ticket {
	t.Helper()
	var found intakev1.Ticket
	require.NoError(t, w.session(t, "office").Get(t.Context(), "/v1"+strings.TrimSuffix(page, "/weigh"), &found))
	return &found
}
