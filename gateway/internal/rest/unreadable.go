package rest

import (
	"fmt"
	"regexp"
	"strings"

	"barrelhead.example/services/kit/apierr"
)

// complaint is one way the readers of JSON and of addresses say what they cannot read; the groups are field, kind and value.
type complaint struct {
	pattern *regexp.Regexp
	words   func(kind, value string) string
}

// complaints are tried in this order.
var complaints = []complaint{
	{regexp.MustCompile(`unknown field "(?P<field>[^"]+)"`), func(string, string) string {
		return "is not a field of this request; see /v1/openapi.json"
	}},
	{regexp.MustCompile(`parsing field "(?P<field>[^"]+)":? strconv\.Parse(?P<kind>\w+): parsing (?P<value>"(?:[^"\\]|\\.)*")`), wanted},
	{regexp.MustCompile(`parameter: (?P<field>\w+), error: strconv\.Parse(?P<kind>\w+): parsing (?P<value>"(?:[^"\\]|\\.)*")`), wanted},
	{regexp.MustCompile(`parsing field "(?P<field>[^"]+)": (?P<value>.*) is not a valid (?P<kind>value)`), wanted},
	{regexp.MustCompile(`invalid value for (?P<kind>\w+) field (?P<field>\w+): (?P<value>.*)`), wanted},
	{regexp.MustCompile(`cannot unmarshal (?P<value>\w+) into Go struct field \w+\.(?P<field>\w+) of type (?P<kind>\S+)`), wanted},
}

// wanted says in plain words what belongs into a field of a kind.
func wanted(kind, value string) string {
	want := "one of its names, which /v1/openapi.json lists"
	switch strings.ToLower(kind) {
	case "int", "uint", "int32", "int64", "uint32", "uint64":
		want = "a whole number that is not too large"
	case "bool":
		want = "true or false"
	case "string":
		want = "text in quotes"
	case "float", "double":
		want = "a number"
	case "[]string":
		want = "a list of texts"
	}
	return fmt.Sprintf("is %s, must be %s", value, want)
}

// longestShown is how much of a value is repeated to its sender.
const longestShown = 40

func shown(value string) string {
	if runes := []rune(value); len(runes) > longestShown {
		return string(runes[:longestShown]) + "…"
	}
	return value
}

// unreadable puts a reader's complaint into our shape. Its wording may change with the library: what is not known is passed on, of the
// whole body.
func unreadable(text string) error {
	text = strings.ReplaceAll(strings.TrimPrefix(text, "proto:"), "\u00a0", " ")
	for _, c := range complaints {
		found := c.pattern.FindStringSubmatch(text)
		if found == nil {
			continue
		}
		part := func(name string) string {
			if n := c.pattern.SubexpIndex(name); n >= 0 {
				return found[n]
			}
			return ""
		}
		field := part("field")
		if part("kind") != "" {
			field = snake(field)
		}
		return apierr.Field(field, c.words(part("kind"), shown(part("value"))))
	}
	return apierr.Field("body", "cannot be read: "+strings.TrimSpace(text))
}
