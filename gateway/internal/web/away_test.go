package web_test

import (
	"context"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/apierr"
)

// putAside saves weights on the device as the page of the dock does while nobody answers: two of this clerk, one of another.
const putAside = `(async () => {
  const database = await new Promise((done) => { indexedDB.open("barrelhead-dock").onsuccess = (e) => done(e.target.result); });
  const step = database.transaction("entries", "readwrite");
  const ticket = "` + gatetest.OpenTicketID + `", mass = (value) => ({ value, unit: "LB" });
  const weight = (login, tag, n) => ({
    kind: "weigh", login, ticket, path: "/v1/tickets/" + ticket + "/barrels", state: "waiting", tried: false, saveTime: Date.now(),
    body: { request_id: "11111111-0000-4000-8000-00000000000" + n, barrel_id: "22222222-0000-4000-8000-00000000000" + n, drum_tag: tag, variety: "clover",
      gross: mass("684.5"), tare: mass("43.0"), tare_kind: "TARE_KIND_STENCILLED", scale: "scales/1", raw_indication: "684.5", manual: true, reason: "", weigh_time: new Date().toISOString() },
  });
  for (const entry of [weight("dock1", "FC-04501", 1), weight("dock1", "FC-04502", 2), weight("dock2", "FC-04503", 3)]) step.objectStore("entries").add(entry);
  await new Promise((done) => { step.oncomplete = done; });
  return true;
})()`

// says waits until an element of the page says something.
func says(tab context.Context, t *testing.T, selector, words string) {
	t.Helper()
	require.Eventually(t, func() bool {
		found, err := chromedp.Run(tab, chromedp.Evaluate[string](`document.querySelector("`+selector+`")?.innerText ?? ""`))
		return err == nil && strings.Contains(found, words)
	}, 30*time.Second, 50*time.Millisecond, "%s says %s", selector, words)
}

func TestBrowser_TheDeviceKeepsWhatWasRefused(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	w.Add("dock1")
	tab := browse(t, 360, 740)
	enter(tab, t, w.URL, "dock1")
	ready := chromedp.WaitReady(chromedp.CSS(`html[data-dock=ready]`))
	require.NoError(t, chromedp.Do(tab, chromedp.Navigate(w.URL+"/dock/away"), ready))
	done, err := chromedp.Run(tab, chromedp.Evaluate[bool](putAside, chromedp.EvalAwaitPromise))
	require.NoError(t, err)
	require.True(t, done)
	inUse := apierr.State("drums/FC-04501", "DRUM_IN_USE", "drum FC-04501 holds a barrel of 2025 that was not emptied")
	w.House.Refuse(&intakev1.WeighBarrelRequest{}, inUse)
	require.NoError(t, chromedp.Do(tab, chromedp.Navigate(w.URL+"/dock/away"), ready))
	says(tab, t, "#away-head", "Saved on this device, 1 not yet sent. 1 was refused: correct it.")
	says(tab, t, "#away-refused", "Drum FC-04501 holds a barrel of 2025 that was not emptied.")
	says(tab, t, "#away-sent", "FC-04502")
	says(tab, t, "#away-note", "Saved here by dock2. Only who weighed can send")
	require.Len(t, w.House.Asked(&intakev1.WeighBarrelRequest{}), 2, "what another clerk weighed is not sent under this one's name")

	changeable, err := chromedp.Run(tab, chromedp.Evaluate[int](`document.querySelectorAll("#away-waiting .chips").length`))
	require.NoError(t, err)
	require.Zero(t, changeable, "and not this one's to change")
	require.NoError(t, chromedp.Do(tab, chromedp.Click(chromedp.CSS("#away-refused button"))))
	faults, err := chromedp.Run(tab, chromedp.Evaluate[[]string](faultsOf))
	require.NoError(t, err)
	require.Empty(t, faults)
	if folder := os.Getenv("BARRELHEAD_SCREENSHOTS"); folder != "" {
		picture, err := chromedp.Run(tab, chromedp.FullScreenshot(100))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(folder, "phone-device.png"), picture, 0o600))
	}
	require.NoError(t, chromedp.Do(tab, chromedp.SetValue(chromedp.CSS("#f-drum_tag"), "FC-04510"), chromedp.Click(chromedp.CSS("#away-weigh button[type=submit]"))))
	says(tab, t, "#away-sent", "FC-04510")
	sent := last(t, w, &intakev1.WeighBarrelRequest{})
	require.Equal(t, "FC-04510", sent.GetDrumTag())
	require.Equal(t, "22222222-0000-4000-8000-000000000001", sent.GetBarrelId(), "the same barrel")
	require.NotEqual(t, "11111111-0000-4000-8000-000000000001", sent.GetRequestId(), "another request")
	require.NotNil(t, sent.GetWeighTime())
}

func TestBrowser_SigningOutTakesTheKeptPageAlong(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	w.Add("dock1")
	tab := browse(t, 1280, 900)
	enter(tab, t, w.URL, "dock1")
	require.NoError(t, chromedp.Do(tab, chromedp.Navigate(w.URL+"/dock"), chromedp.WaitReady(chromedp.CSS(`html[data-dock=ready]`))))
	kept := func() bool {
		found, err := chromedp.Run(tab, chromedp.Evaluate[bool](`caches.has("barrelhead-dock")`, chromedp.EvalAwaitPromise))
		return err == nil && found
	}
	require.True(t, kept(), "members are named on it")
	require.Eventually(t, func() bool {
		found, err := chromedp.Run(tab, chromedp.Evaluate[bool](`navigator.serviceWorker.controller !== null`))
		return err == nil && found
	}, 30*time.Second, 50*time.Millisecond)
	follow(tab, t, ".out button")
	require.Eventually(t, func() bool { return !kept() }, 30*time.Second, 50*time.Millisecond)
}

func TestDockWorker_IsOursAndNeverOld(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	answer, body := open(t, plain(), w.URL+"/dock-worker.js")
	require.Equal(t, http.StatusOK, answer.StatusCode)
	require.Equal(t, "no-cache", answer.Header.Get("Cache-Control"))
	require.Equal(t, "text/javascript; charset=utf-8", answer.Header.Get("Content-Type"))
	require.NotContains(t, body, "://")
}
