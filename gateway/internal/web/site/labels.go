package site

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// labelling is where a page says what it calls a field, by its template or with an element of its own.
var labelling = regexp.MustCompile(`\((?:input|pick) \S+ (?:\([.]Name )?"([a-z0-9_]+)"\)? "([^"]+)"|<label for="f-([a-z0-9_]+)">([^<{]+)</label>`)

// labelsIn reads what a page calls its fields. What follows a comma in a label explains it: "Owners, one a line".
func labelsIn(page string) map[string]string {
	called := map[string]string{}
	for _, found := range labelling.FindAllStringSubmatch(page, -1) {
		label, _, _ := strings.Cut(found[2]+found[4], ",")
		called[found[1]+found[3]] = label
	}
	return called
}

// saying is one fault of a field, kept in its parts until it is known on which page it is read.
type saying struct {
	path           []string
	where, message string
}

// summary says all faults in one line, each by what the page calls its field.
func (s *Site) summary(faults []saying, labels map[string]string) string {
	var all []string
	for _, fault := range faults {
		path := slices.Clone(fault.path)
		for len(path) > 1 && slices.Contains(quantityParts, path[len(path)-1]) {
			path = path[:len(path)-1]
		}
		said := called(path, fault.message)
		if label := labels[path[len(path)-1]]; label != "" && !strings.EqualFold(label, words(path[len(path)-1])) {
			said = labelled(label, fault.message)
		}
		if said = s.Plain(fault.where + said); !slices.Contains(all, said) {
			all = append(all, said)
		}
	}
	if more := len(all) - mostFaults; more > 0 {
		all = append(all[:mostFaults], "And "+grouped(strconv.Itoa(more))+" more.")
	}
	return strings.Join(all, " ")
}

// labelled puts the label of a field, which may be a whole question, before what is wrong with it.
func labelled(label, message string) string {
	if readsOn.MatchString(message) {
		return "“" + label + "” " + message
	}
	return "“" + label + "”: " + message
}

// resourceForm is a refusal of a resource name, of which a page asks the last part only.
var resourceForm = regexp.MustCompile(`^is "[a-z][A-Za-z]*/([^"]*)", must be [a-z][A-Za-z]*/ and (.*)$`)

// legibly says in words of the trade what is wrong with characters nobody types.
func legibly(message string) string {
	if name := resourceForm.FindStringSubmatch(message); name != nil {
		if name[1] == "" {
			return "is missing"
		}
		return fmt.Sprintf("is %q, must be %s", name[1], name[2])
	}
	switch {
	case message == "has too few entries, must have at least 1":
		return "is missing"
	case strings.Contains(message, "NUL character"):
		return "holds a character that cannot be kept; type it again"
	case strings.Contains(message, "is not UTF-8 text"):
		return "holds characters that cannot be read; type it again"
	}
	return message
}

// readOn has the form's faults name their fields as the page does that shows it.
func (f *Form) readOn(s *Site, page string) {
	if len(f.said) > 0 {
		f.Problem = s.summary(f.said, s.calls[page])
	}
}
