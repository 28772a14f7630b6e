package web_test

import (
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
)

func TestStock_GoesFromASourceToItsKindsAndTheirBarrels(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("warehouse1")
	_, body := open(t, client, w.URL+"/stock")
	require.Contains(t, body, `<a href="/stock?source=clover">Clover</a>`)
	require.Contains(t, body, `<div class="wide roomy"><table>`, "where there is room, all kinds at once")
	require.Contains(t, body, `<td data-th="Colour">dark amber</td>`)

	_, body = open(t, client, w.URL+"/stock?source=clover")
	require.Contains(t, body, "Clover: 351 barrels on hand, 3 held")
	require.Contains(t, body, `href="/stock/list?color_class=EXTRA_WHITE&amp;crop_year=2026&amp;grade=A&amp;variety=clover"`)
	require.Contains(t, body, "118 barrels")
	require.Contains(t, body, "2 held")
	require.Contains(t, body, `href="/stock/list?variety=clover&amp;held=yes"`)
	require.NotContains(t, body, "dark amber", "of another source")
	require.NotContains(t, body, `href="/stock?source=`, "it is there already")
	require.Contains(t, body, `<div class="row"><span class="row-main"><strong>not graded</strong>`, "there is no list of just those")
	_, body = open(t, client, w.URL+"/stock?source=heather")
	require.Contains(t, body, "None of it is on hand.")

	_, body = open(t, w.Browser("treasurer1"), w.URL+"/stock?source=clover")
	require.Contains(t, body, "Clover: 351 barrels on hand, 3 held")
	require.NotContains(t, body, "/stock/list", "who may not see barrels is not led there")
}

func TestBrowser_StockIsShortOnAPhoneAndWholeOnADesk(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	w.Add("warehouse1")
	const seen = `[...document.querySelectorAll("tbody tr")].filter((e) => e.getClientRects().length).length`
	for _, screen := range []struct{ width, height, kinds int }{{390, 844, 0}, {1280, 900, 16}} {
		tab := browse(t, screen.width, screen.height)
		enter(tab, t, w.URL, "warehouse1")
		require.NoError(t, chromedp.Do(tab, chromedp.Navigate(w.URL+"/stock")))
		kinds, err := chromedp.Run(tab, chromedp.Evaluate[int](seen))
		require.NoError(t, err)
		require.Equal(t, screen.kinds, kinds)
		if screen.kinds > 0 {
			continue
		}
		screens, err := chromedp.Run(tab, chromedp.Evaluate[float64](`document.documentElement.scrollHeight / window.innerHeight`))
		require.NoError(t, err)
		require.Less(t, screens, 2.0, "one thumb's way")
		follow(tab, t, `a[href="/stock?source=knapweed"]`)
		require.Equal(t, "Knapweed: 84 barrels on hand, 3 held", text(tab, t, "h1"))
	}
}
