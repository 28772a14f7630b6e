package web_test

import (
	"context"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/browsertest"
)

// chrome is one real browser for all tests of the package; ended by TestMain.
var chrome = sync.OnceValues(func() (context.Context, error) {
	options, err := browsertest.Options()
	if err != nil {
		return nil, err
	}
	allocator, cancelAllocator := chromedp.NewExecAllocator(context.Background(), options...)
	browser, cancelBrowser := chromedp.NewContext(allocator)
	endChrome = func() {
		cancelBrowser()
		cancelAllocator()
	}
	return browser, chromedp.Do(browser)
})

var endChrome = func() {}

func TestMain(m *testing.M) {
	code := m.Run()
	endChrome()
	os.Exit(code)
}

// browse opens a tab of the browser, in a size in CSS pixels, that shares no cookie with another.
func browse(t *testing.T, width, height int) context.Context {
	t.Helper()
	browser, err := chrome()
	require.NoError(t, err)
	limit, cancel := context.WithTimeout(browser, 2*time.Minute)
	tab, cancelTab := chromedp.NewContext(limit, chromedp.WithNewBrowserContext())
	t.Cleanup(func() {
		cancelTab()
		cancel()
	})
	require.NoError(t, chromedp.Do(tab, chromedp.EmulateViewport(int64(width), int64(height))))
	return tab
}

// enter signs in with the keyboard alone.
func enter(tab context.Context, t *testing.T, base, login string) {
	t.Helper()
	require.NoError(t, chromedp.Do(tab, chromedp.Navigate(base+"/sign-in"), chromedp.WaitVisible(chromedp.CSS("#password"))))
	_, err := chromedp.RunResponse(tab, chromedp.KeyEvent(login+kb.Tab+gatetest.Password+kb.Enter))
	require.NoError(t, err)
}

func text(tab context.Context, t *testing.T, selector string) string {
	t.Helper()
	found, err := chromedp.Run(tab, chromedp.Text(chromedp.CSS(selector)))
	require.NoError(t, err, selector)
	return strings.Join(strings.Fields(found), " ")
}

func follow(tab context.Context, t *testing.T, selector string) {
	t.Helper()
	_, err := chromedp.RunResponse(tab, chromedp.Click(chromedp.CSS(selector)))
	require.NoError(t, err, selector)
}

func TestBrowser_AMemberFindsOutWhy(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	w.Add("juniper")
	tab := browse(t, 390, 844)
	enter(tab, t, w.URL, "juniper")
	require.Equal(t, "We owe you $2,348.18", text(tab, t, "h1"))
	require.Contains(t, text(tab, t, ".lead"), "is yours and is not paid yet: a notice of 3 Apr 2026 is not resolved")
	require.Contains(t, text(tab, t, ".answer"), "For 3 of 5 barrels: 1,920.8 lb paid of 1,925.5 lb net.")
	require.Contains(t, text(tab, t, "main"), "No adopted schedule has a price for buckwheat, dark amber, grade C.")

	follow(tab, t, `a[href="/payouts/`+gatetest.PayoutID+`"]`)
	require.Equal(t, "Barrel FC-04417 $683.03", text(tab, t, "h1"))
	require.Contains(t, text(tab, t, ".lead"), "4.7 lb of 640.0 lb is not paid")

	follow(tab, t, `a[href$="/lines/1"]`)
	require.Equal(t, gatetest.Calculation, text(tab, t, "#calculation"))
	require.Equal(t, "G-2026-000412", text(tab, t, "#certificate"))
	require.Contains(t, text(tab, t, "main"), "Refractive index 1.4868 at 21.0 °C on RF-2: 19.2 %.")
	limit, err := chromedp.Run(tab, chromedp.TextContent(chromedp.CSS(".g-base")))
	require.NoError(t, err)
	require.Equal(t, "full weight up to 18.6 %", limit)
}

func TestBrowser_TheDockWeighsByScannerAndKeyboard(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	w.Add("dock1")
	tab := browse(t, 800, 1100)
	enter(tab, t, w.URL, "dock1")
	require.NoError(t, chromedp.Do(tab, chromedp.Navigate(w.URL+"/tickets/"+gatetest.OpenTicketID+"/weigh?typed=yes"), chromedp.WaitVisible(chromedp.CSS("#f-drum_tag"))))
	// The scanner sends small letters and Enter after the tag; the form goes on to the weight instead of being sent.
	require.NoError(t, chromedp.Do(tab, chromedp.KeyEvent("fc-04433"+kb.Enter), chromedp.KeyEvent("682.0"+kb.Enter)))
	focused, err := chromedp.Run(tab, chromedp.Evaluate[string](`document.activeElement.name + " " + document.querySelector("#f-drum_tag").value`))
	require.NoError(t, err)
	require.Equal(t, "tare FC-04433", focused)
	_, err = chromedp.RunResponse(tab, chromedp.KeyEvent("40.5"+kb.Enter))
	require.NoError(t, err)
	require.Contains(t, text(tab, t, "h1"), "641.5 lb")
	_, err = chromedp.RunResponse(tab, chromedp.KeyEvent(kb.Enter))
	require.NoError(t, err)
	require.Equal(t, "Q7TDMX4R9", text(tab, t, "#code"))
}

// The form of a new delivery is sent from the device, so what it says of owners and claims goes through the script.
func TestBrowser_ADeliveryKeepsItsOwners(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	w.Add("dock1")
	tab := browse(t, 390, 844)
	enter(tab, t, w.URL, "dock1")
	require.NoError(t, chromedp.Do(tab, chromedp.Navigate(w.URL+"/tickets/new"), chromedp.WaitReady(chromedp.CSS(`html[data-dock=ready]`)), chromedp.Click(chromedp.CSS("form summary")),
		chromedp.SetValue(chromedp.CSS("#f-member"), "M-0012 Juniper Ridge Bees"), chromedp.SetValue(chromedp.CSS("#f-owners"), "12; 66,6667\n31; 33.3333"),
		chromedp.SetValue(chromedp.CSS("#f-claims"), "organic; CERT-4417"), chromedp.SetValue(chromedp.CSS("#f-vehicle"), "WX 204"), chromedp.Click(chromedp.CSS("main form button[type=submit]"))))
	require.Eventually(t, func() bool { return len(w.House.Asked(&intakev1.OpenTicketRequest{})) == 1 }, 30*time.Second, 50*time.Millisecond)
	sent := last(t, w, &intakev1.OpenTicketRequest{})
	require.Equal(t, gatetest.Juniper, sent.GetMember())
	require.Equal(t, "WX 204", sent.GetVehicle())
	require.Len(t, sent.GetOwners(), 2)
	require.Equal(t, "66.6667", sent.GetOwners()[0].GetSharePercent())
	require.Equal(t, "members/M-0031", sent.GetOwners()[1].GetMember())
	require.Equal(t, "CERT-4417", sent.GetClaims()[0].GetCertificate())
}

func TestBrowser_TheWeightFollowsTheScale(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	w.Add("dock1")
	tab := browse(t, 390, 844)
	enter(tab, t, w.URL, "dock1")
	require.NoError(t, chromedp.Do(tab, chromedp.Navigate(w.URL+"/tickets/"+gatetest.OpenTicketID+"/weigh"), chromedp.WaitVisible(chromedp.CSS(".shown-still"))))
	require.Equal(t, "682.0 lb", text(tab, t, ".shown-weight"))
	require.Equal(t, "Scale 1 stands still.", text(tab, t, ".shown-state"))
	require.Equal(t, "STANDS STILL", text(tab, t, ".shown-word"))
}

// faultsOf looks at a page the way a person in a hurry does. Each fault is a line; none is expected.
const faultsOf = `(() => {
  const faults = [];
  const name = (e) => e.tagName.toLowerCase() + "." + e.className + " “" + (e.innerText || e.value || e.name || "").trim().slice(0, 30) + "”";
  if (document.documentElement.scrollWidth > window.innerWidth) faults.push("the page is wider than the screen: " + document.documentElement.scrollWidth);
  if (!document.querySelector("h1")) faults.push("no first line");
  for (const e of document.querySelectorAll("a, button, input, textarea, summary")) {
    const box = e.getBoundingClientRect();
    const inLine = getComputedStyle(e).display === "inline" || e.closest(".skip");
    if (e.type === "hidden" || inLine || box.width === 0) continue;
    const target = e.type === "checkbox" && e.closest(".check") ? e.closest(".check").getBoundingClientRect() : box;
    if (target.height < 48) faults.push("too small to hit: " + name(e) + " " + target.height);
  }
  for (const e of document.querySelectorAll("input:not([type=hidden]), textarea")) {
    if (!e.labels || !e.labels.length) faults.push("no label: " + name(e));
  }
  const light = (c) => c.map((v) => v / 255).map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)).reduce((s, v, i) => s + v * [0.2126, 0.7152, 0.0722][i], 0);
  const parse = (c) => c.match(/[0-9.]+/g).map(Number);
  const ground = (e) => {
    for (; e; e = e.parentElement) {
      const c = parse(getComputedStyle(e).backgroundColor);
      if (c.length < 4 || c[3] > 0) return c.slice(0, 3);
    }
    return [255, 255, 255];
  };
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const e = walk.currentNode.parentElement;
    if (!walk.currentNode.data.trim() || e.closest("svg, script, datalist, .skip") || !e.getClientRects().length) continue;
    const style = getComputedStyle(e);
    const a = light(parse(style.color).slice(0, 3)), b = light(ground(e));
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    const size = parseFloat(style.fontSize), large = size >= 24 || (size >= 18.66 && style.fontWeight >= 700);
    if (ratio < (large ? 3 : 4.5)) faults.push("too pale: " + name(e) + " " + ratio.toFixed(2));
  }
  return faults;
})()`

// look visits every page of a login in one screen size and collects what a person would stumble over.
func look(t *testing.T, w *gatetest.World, login, device string, width, height int) {
	t.Helper()
	tab := browse(t, width, height)
	inspect(tab, t, w.URL+"/sign-in", device+"-sign-in")
	enter(tab, t, w.URL, login)
	for _, page := range append(everyPage[login], "/nowhere") {
		inspect(tab, t, w.URL+page, device+"-"+login+strings.NewReplacer("/", "_", "?", "_", "&", "_").Replace(page))
	}
}

// inspect looks at one page. With BARRELHEAD_SCREENSHOTS set to a folder it leaves a picture there.
func inspect(tab context.Context, t *testing.T, address, name string) {
	t.Helper()
	require.NoError(t, chromedp.Do(tab, chromedp.Navigate(address)), name)
	faults, err := chromedp.Run(tab, chromedp.Evaluate[[]string](faultsOf))
	require.NoError(t, err, name)
	require.Empty(t, faults, name)
	if folder := os.Getenv("BARRELHEAD_SCREENSHOTS"); folder != "" {
		picture, err := chromedp.Run(tab, chromedp.FullScreenshot(100))
		require.NoError(t, err, name)
		require.NoError(t, os.WriteFile(filepath.Join(folder, name+".png"), picture, 0o600))
	}
}

func TestBrowser_EveryPageIsReadableAndReachable(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	for login := range everyPage {
		w.Add(login)
		look(t, w, login, "phone", 360, 740)
	}
	look(t, w, "juniper", "desk", 1280, 900)
	look(t, w, "warehouse1", "desk", 1280, 900)
}

// What the inspection is worth: a page with every fault it knows must show every one.
func TestBrowser_TheInspectionFindsFaults(t *testing.T) {
	t.Parallel()
	tab := browse(t, 360, 740)
	bad := `<body style="background:#fff"><p style="color:#bbb">pale</p><button style="height:20px">x</button><input><div style="width:900px">wide</div>`
	require.NoError(t, chromedp.Do(tab, chromedp.Navigate("data:text/html,"+url.PathEscape(bad))))
	faults, err := chromedp.Run(tab, chromedp.Evaluate[[]string](faultsOf))
	require.NoError(t, err)
	all := strings.Join(faults, "\n")
	for _, expected := range []string{"wider than the screen", "no first line", "too small to hit: button", "no label: input", "too pale: p"} {
		require.Contains(t, all, expected)
	}
}

// The policy lets nothing in the page run or load that is not ours; a page that breaks it would log so.
func TestBrowser_NoPageBreaksThePolicy(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	w.Add("juniper")
	tab := browse(t, 390, 844)
	enter(tab, t, w.URL, "juniper")
	for _, page := range everyPage["juniper"] {
		require.NoError(t, chromedp.Do(tab, chromedp.Navigate(w.URL+page)))
		counted, err := chromedp.Run(tab, chromedp.Evaluate[string](
			`document.styleSheets.length + " " + document.documentElement.classList.contains("script") + " " + document.querySelectorAll("[style], [onclick], script:not([src])").length`))
		require.NoError(t, err)
		require.Equal(t, "1 true 0", counted, page)
	}
	// An injected script does not run.
	ran, err := chromedp.Run(tab, chromedp.Evaluate[bool](
		`(() => { const s = document.createElement("script"); s.textContent = "window.ran = true"; document.body.append(s); return window.ran === true; })()`))
	require.NoError(t, err)
	require.False(t, ran)
}
