package lab

import (
	"encoding/json"
	"net/http"
	"net/url"
	"slices"
	"time"

	"barrelhead.example/gateway/internal/web/site"
)

// The instruments last used on this device, each under the way it measures. They belong to the bench and not to a login: who takes
// over the place takes over what stands on it. A shift later they are asked for again.
const (
	instrumentsCookie = "barrelhead-instruments"
	instrumentsKept   = 12 * time.Hour
	longestInstrument = 64
)

// instruments are those of this device by kind of reading; empty before the first.
func instruments(v *site.Visit) url.Values {
	cookie, err := v.Cookie(instrumentsCookie)
	if err != nil {
		return url.Values{}
	}
	kept, err := url.ParseQuery(cookie.Value)
	if err != nil {
		return url.Values{}
	}
	return kept
}

// keepInstrument has the device remember what a reading was made with; nil where there is nothing to remember.
func keepInstrument(v *site.Visit, f *site.Form) *http.Cookie {
	kind, instrument := f.Value("kind"), f.Value("instrument")
	at := slices.IndexFunc(methods, func(m method) bool { return m.kind == kind })
	if at < 0 || instrument == "" || len(instrument) > longestInstrument {
		return nil
	}
	kept := instruments(v)
	// A bench measures a factor in one way: the one used last.
	for _, m := range methods {
		if m.factor == methods[at].factor {
			kept.Del(m.kind)
		}
	}
	kept.Set(kind, instrument)
	return &http.Cookie{ //nolint:gosec // Secure wherever browsers come by HTTPS; it holds no secret
		Name: instrumentsCookie, Value: kept.Encode(), Path: "/", MaxAge: int(instrumentsKept / time.Second),
		HttpOnly: true, Secure: v.Site.Door.Secure, SameSite: http.SameSiteStrictMode,
	}
}

// usual fills in how this bench measures a factor and with what, unless something was typed.
func usual(v *site.Visit, f *site.Form, ways []method) bench {
	kept := instruments(v)
	if at := slices.IndexFunc(ways, func(m method) bool { return kept.Has(m.kind) }); at > 0 {
		f.Set("kind", ways[at].kind)
	} else if len(ways) > 0 {
		f.Set("kind", ways[0].kind)
	}
	var b bench
	if instrument := kept.Get(f.Value("kind")); instrument != "" {
		f.Set("instrument", instrument)
		at := slices.IndexFunc(methods, func(m method) bool { return m.kind == f.Value("kind") })
		b.Hint = "hint=As last time for “" + methods[max(at, 0)].label + "”."
	}
	told := map[string]string{}
	for kind := range kept {
		told[kind] = kept.Get(kind)
	}
	if text, err := json.Marshal(told); err == nil {
		b.Instruments = string(text)
	}
	return b
}

// bench is what a page needs of it: the instruments by kind, for the script, and what is said under one that was filled in.
type bench struct{ Instruments, Hint string }
