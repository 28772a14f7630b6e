package site

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

var (
	// index is the place of an item in the path of a field.
	index = regexp.MustCompile(`\[[^\]]*\]`)
	// quantityParts end the path of a quantity, which is one field on a page.
	quantityParts = []string{"value", "amount", "unit", "currency_code"}
	// inList is a field of an item of a list, such as loads[2].known.value: the list, the place and the field.
	inList = regexp.MustCompile(`^([a-z_]+)\[([0-9]+)\]\.([a-z_]+)`)
	// readsOn begins a message that needs the name of its field before it: "is missing".
	readsOn = regexp.MustCompile(`^(is|are|has|have|must|needs?|cannot|can|could|does|may|was|were|fails|names|differs|already|belongs|stands|ends|begins|holds|lies|comes)\b`)
	// read is a refusal of a number as it was sent, with the limit: a text that is no number is sent as zero, a number too large as
	// the largest.
	read = regexp.MustCompile(`^is (-?[0-9]+)[,;] (?:it )?(must .*)$`)
	// endless is a word longer than any that is meant, the 64 digits of a fingerprint: its beginning and the rest.
	endless = regexp.MustCompile(`([^\s…]{40})[^\s…]{40,}`)
)

// segments are the names in the path of a field: "rows", "price" and "amount" for rows[2].price.amount.
func segments(path string) []string { return strings.Split(index.ReplaceAllString(path, ""), ".") }

// row is a line or a part of the page, such as weight 3; the names of its fields have an ending of their own.
type row struct{ called, ending string }

// InRow says that the next item of a list is sent from a row of the page. Rows left empty are not sent, so places differ.
func (f *Form) InRow(list, called, ending string) {
	f.rows[list] = append(f.rows[list], row{called, ending})
}

// fieldsOf are the fields of the page a fault belongs beside, and the row to name before it.
func (f *Form) fieldsOf(field string) (names []string, where string) {
	if at := inList.FindStringSubmatch(field); at != nil {
		rows := f.rows[at[1]]
		if i, err := strconv.Atoi(at[2]); err == nil && i < len(rows) {
			return []string{at[3] + rows[i].ending}, rows[i].called + ", "
		}
	}
	return segments(field), ""
}

// called puts what people call a field before what is wrong with it.
func called(path []string, message string) string {
	for len(path) > 1 && slices.Contains(quantityParts, path[len(path)-1]) {
		path = path[:len(path)-1]
	}
	name := words(path[len(path)-1])
	begin := strings.ToLower(message)
	switch {
	case name == "" || strings.HasPrefix(begin, name+" ") || strings.HasPrefix(begin, name+":") || strings.HasPrefix(begin, "the "+name+" "):
		return message
	case readsOn.MatchString(message):
		return name + " " + message
	}
	return name + ": " + message
}

// asTyped says of an empty field that it is missing, and of a number what was typed instead of one.
func (f *Form) asTyped(path []string, message string) string {
	message, _, _ = strings.Cut(message, ", must be one of ") // the choices are on the page
	if rest, empty := strings.CutPrefix(message, `"" is not `); empty {
		return "is missing: give " + rest
	}
	number := read.FindStringSubmatch(message)
	if number == nil {
		return message
	}
	for _, name := range slices.Backward(path) {
		typed, known := f.values[name]
		if !known {
			continue
		}
		if n, err := strconv.ParseInt(typed, 10, 64); err == nil && strconv.FormatInt(n, 10) == number[1] {
			return message
		}
		if typed == "" {
			return "is missing: it " + number[2]
		}
		return fmt.Sprintf("is %q: it %s", typed, number[2])
	}
	return message
}
