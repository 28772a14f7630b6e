package rpcserve

import (
	"fmt"
	"regexp"
	"strings"

	"buf.build/go/protovalidate"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// inWords says what is wrong with a field so that it reads on after the field's name: "is missing", "must be at least 1
// but is 0".
func inWords(v *protovalidate.Violation) string {
	id := v.Proto.GetRuleId()
	text, isText := stringOf(v.FieldValue)
	switch {
	case id == "required" || (strings.HasPrefix(id, "string.") && isText && text == "" && !strings.HasSuffix(id, "in")):
		return "is missing"
	case id == "string.uuid":
		return fmt.Sprintf("is %s, must be a UUID", quoted(text))
	case id == "string.pattern":
		pattern, _ := stringOf(v.RuleValue)
		return fmt.Sprintf("is %s, must be %s", quoted(text), formOf(pattern))
	case id == "string.in":
		return fmt.Sprintf("is %s, %s", quoted(text), listed(v.Proto.GetMessage()))
	case strings.HasPrefix(id, "enum.") && v.FieldValue.IsValid() && v.FieldValue.Enum() == 0:
		return "is missing, must be one of " + namesOf(v.FieldDescriptor)
	case strings.HasPrefix(id, "enum."):
		return fmt.Sprintf("is %v, must be one of %s", v.FieldValue, namesOf(v.FieldDescriptor))
	case id == "bool.const":
		return "must be confirmed"
	case id == "repeated.min_items":
		return fmt.Sprintf("has too few entries, must have at least %v", v.RuleValue)
	case id == "repeated.max_items":
		return fmt.Sprintf("has too many entries, must have at most %v", v.RuleValue)
	default:
		return plain(v)
	}
}

// plain adds the value to the library's own sentence when it is a number or a short text.
func plain(v *protovalidate.Violation) string {
	message := strings.TrimPrefix(v.Proto.GetMessage(), "value ")
	message = strings.NewReplacer("greater than or equal to", "at least", "less than or equal to", "at most").Replace(message)
	if !strings.HasPrefix(message, "must be ") || !v.FieldValue.IsValid() {
		return message
	}
	switch value := v.FieldValue.Interface().(type) {
	case string:
		return fmt.Sprintf("is %s, %s", quoted(value), message)
	case int32, int64, uint32, uint64, float32, float64:
		return fmt.Sprintf("is %v, %s", value, message)
	default:
		return message
	}
}

func stringOf(v protoreflect.Value) (string, bool) {
	if !v.IsValid() {
		return "", false
	}
	s, ok := v.Interface().(string)
	return s, ok
}

const longest = 40

// quoted shows what was sent, cut so that a message stays a sentence.
func quoted(s string) string {
	if runes := []rune(s); len(runes) > longest {
		s = string(runes[:longest]) + "…"
	}
	return fmt.Sprintf("%q", s)
}

func listed(message string) string {
	return strings.NewReplacer("must be in list [", "must be one of ", "]", "").Replace(strings.TrimPrefix(message, "value "))
}

func namesOf(field protoreflect.FieldDescriptor) string {
	if field == nil || field.Enum() == nil {
		return "the known values"
	}
	var names []string
	for i := range field.Enum().Values().Len() {
		if v := field.Enum().Values().Get(i); v.Number() != 0 {
			names = append(names, string(v.Name()))
		}
	}
	return strings.Join(names, ", ")
}

// forms are the patterns our own proto files use, by what a person calls them.
var forms = []struct {
	pattern *regexp.Regexp
	words   func(parts []string) string
}{
	{regexp.MustCompile(`^\^\(?(-\?)?\[0-9\]\{1,(\d+)\}\(\[\.\]\[0-9\]\{1,(\d+)\}\)\?\)?\??\$$`), func(p []string) string {
		sign := "a decimal number"
		if p[1] == "" {
			sign = "a decimal number without a sign"
		}
		return fmt.Sprintf("%s with at most %s digits before and %s after the point", sign, p[2], p[3])
	}},
	{regexp.MustCompile(`^\^\(?\[0-9\]\{4\}-\[0-9\]\{2\}-\[0-9\]\{2\}\)?\??\$$`), func([]string) string {
		return "a date such as 2026-09-14"
	}},
	{regexp.MustCompile(`^\^\[A-Z\]\{3\}\$$`), func([]string) string { return "a currency code such as USD" }},
	{regexp.MustCompile(`^\^\(?([a-z][A-Za-z]*/)?((?:\[[A-Za-z0-9-]+\])+)\{(\d+),(\d+)\}\)?\??\$$`), func(p []string) string {
		what := fmt.Sprintf("%s to %s %s", p[3], p[4], characters.Replace(p[2]))
		if p[1] != "" { // the name of a resource
			return p[1] + " and " + what
		}
		return what
	}},
	{regexp.MustCompile(`^\^\(\[0-9\]\{8\}\|\[0-9\]\{12,14\}\)\?\$$`), func([]string) string { return "a trade item number of 8 or 12 to 14 digits" }},
	{regexp.MustCompile(`^\^(?:members/)?M-\[0-9\]\{\d+(?:,\d+)?\}\$$`), func([]string) string { return "a member number such as M-0007" }},
}

// characters are the classes of the patterns.
var characters = strings.NewReplacer(
	"[A-Z0-9-]", "capital letters, digits and dashes", "[A-Z0-9]", "capital letters and digits", "[A-Za-z0-9-]", "letters, digits and dashes",
	"[0-9A-Z]", "capital letters and digits",
)

func formOf(pattern string) string {
	for _, form := range forms {
		if parts := form.pattern.FindStringSubmatch(pattern); parts != nil {
			return form.words(parts)
		}
	}
	return "of the form " + pattern
}
