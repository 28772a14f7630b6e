package edge

import (
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"unicode/utf8"

	"barrelhead.example/services/kit/apierr"
)

// Legible refuses an address that holds what is no text: neither a service nor the database could be asked with it.
func Legible(r *http.Request) error {
	if !isText(r.URL.Path) {
		return apierr.Field("path", "is not UTF-8 text; check its escapes")
	}
	return LegibleForm(r.URL.Query())
}

// LegibleForm refuses fields that hold what is no text. A NUL is left to whoever knows what the field is for.
func LegibleForm(fields url.Values) error {
	var faults []apierr.Fault
	for _, name := range slices.Sorted(maps.Keys(fields)) {
		if !utf8.ValidString(name) {
			faults = append(faults, apierr.Fault{Field: "query", Message: "has a name that is not UTF-8 text"})
		} else if !utf8.ValidString(strings.Join(fields[name], "")) {
			faults = append(faults, apierr.Fault{Field: name, Message: "is not UTF-8 text; type it again"})
		}
	}
	return apierr.Fields(faults...)
}

// isText refuses the NUL too, which no text in PostgreSQL can hold.
func isText(s string) bool { return utf8.ValidString(s) && !strings.ContainsRune(s, 0) }
