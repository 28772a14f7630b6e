package site

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"

	"github.com/google/uuid"
	"google.golang.org/grpc/codes"

	"barrelhead.example/gateway/internal/rest"
)

// Form is one task: what was typed, under one request_id from the first time the page is opened until the task is done.
// So a button pressed twice, or again after the network died, has one effect.
type Form struct {
	RequestID string
	values    map[string]string
	// Problem is why the task was not done; empty when it was not tried.
	Problem string
	faults  map[string]string
	// said are the parts of Problem, where it is about fields.
	said []saying
	// Asked names the field a reason is required for.
	Asked string
	// Difference is the weight a lot does not add up by, where that is why.
	Difference string
	// rows are those of the page that were sent as the items of a list, in the list's order.
	rows map[string][]row
}

// NewForm is a form nothing was typed into.
func NewForm() *Form {
	return &Form{values: map[string]string{}, faults: map[string]string{}, rows: map[string][]row{}}
}

// Form reads what was sent, or begins anew with the page's query as first values.
func (v *Visit) Form() *Form {
	f := NewForm()
	v.forms = append(v.forms, f)
	given := v.URL.Query()
	if v.Posted {
		given = v.PostForm
		f.RequestID = given.Get("request_id")
	}
	for name, values := range given {
		if name != "form_token" && name != "request_id" {
			f.values[name] = strings.TrimSpace(values[0])
		}
	}
	if f.RequestID == "" {
		f.RequestID = uuid.NewString()
	}
	return f
}

// Value is what was typed into a field.
func (f *Form) Value(name string) string { return f.values[name] }

// Set gives a field a first value, unless something was typed.
func (f *Form) Set(name, value string) {
	if _, typed := f.values[name]; !typed {
		f.values[name] = value
	}
}

// Put gives a field a value, whatever was typed.
func (f *Form) Put(name, value string) { f.values[name] = value }

// Forget drops what was typed: passwords are not written back into the page.
func (f *Form) Forget(names ...string) {
	for _, name := range names {
		delete(f.values, name)
	}
}

// Wrong says what is wrong with a field.
func (f *Form) Wrong(name, fault string) { f.faults[name] = fault }

// TooMuch reports whether more came out of a lot than went in: no loss explains that.
func (f *Form) TooMuch() bool { return strings.HasPrefix(f.Difference, "-") }

// Fault is what is wrong with a field; empty for nothing.
func (f *Form) Fault(name string) string { return f.faults[name] }

// Refused takes a refusal a person can answer on the same page and reports whether it was one.
func (f *Form) Refused(v *Visit, err error) bool {
	if err == nil {
		return false
	}
	refusal, code := rest.Explain(v.Context(), err)
	answerable := []codes.Code{
		codes.InvalidArgument, codes.FailedPrecondition, codes.AlreadyExists, codes.Aborted, codes.OutOfRange, codes.NotFound,
		codes.Unavailable, codes.DeadlineExceeded, codes.ResourceExhausted,
	}
	if !slices.Contains(answerable, code) {
		return false
	}
	f.said = nil
	for _, fault := range refusal.Fields {
		path, where := f.fieldsOf(fault.Field)
		message := legibly(f.asTyped(path, v.Site.byName(v, fault.Message)))
		for _, name := range path {
			if f.faults[name] == "" {
				f.faults[name] = v.Site.Plain(message)
			}
		}
		f.said = append(f.said, saying{segments(fault.Field), where, message})
	}
	f.Problem = v.Site.Plain(v.Site.byName(v, refusal.Message))
	f.Difference = refusal.Metadata["difference"]
	if refusal.Reason != "FIELD_INVALID" {
		f.said = nil
	}
	f.readOn(v.Site, "")
	if kind, id, named := strings.Cut(refusal.Metadata["resource"], "/"); code == codes.NotFound && named {
		f.Problem = v.Site.Plain("There is no " + kindWord(kind) + " " + id + ". Check it and try again.")
	}
	switch refusal.Reason {
	case "REASON_REQUIRED":
		f.Asked = refusal.Metadata["field"]
	case "REQUEST_ID_REUSED":
		f.Problem = "This was saved already, with other values. Look at what was saved before you send it again."
		f.RequestID = uuid.NewString()
	case "UNAVAILABLE":
		if refusal.Metadata["state"] != "" || code == codes.ResourceExhausted {
			break // a scale that cannot be read, or who is asked to wait, is told so, and nothing was saved
		}
		f.Problem = "No answer yet. It may have been saved or not: press the button again, it will be saved only once."
	}
	return true
}

// mostFaults are told at once; a file of a wrong kind has one in every row.
const mostFaults = 5

var (
	// resourceName is a member, a drum, a login, a label or a customer as the wire names it.
	resourceName = regexp.MustCompile(`\b(?:members|drums|users|labels|customers)/([A-Za-z0-9._-]+)`)
	// numbered is any other resource, known by a number nobody reads.
	numbered = regexp.MustCompile(`\b[a-zA-Z]+/[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}\b`)
	// instant is a time as the wire or a message of a service writes it.
	instant = regexp.MustCompile(`\b[0-9]{4}-[0-9]{2}-[0-9]{2}(?:T[0-9:.]+Z| [0-9]{2}:[0-9]{2} UTC)`)
	// localDate is a date of the wire.
	localDate = regexp.MustCompile(`\b[0-9]{4}-[0-9]{2}-[0-9]{2}\b`)
	// example shows how to write a time into a file, and is not to be written otherwise.
	example = regexp.MustCompile(`such as [0-9]{4}-[0-9]{2}-[0-9]{2}[ T][0-9:][^;,.]*`)
)

// Plain writes names, times and dates of a message as people say them: "members/M-0003" is M-0003 to everybody, and the
// clock is the cooperative's own. What was pasted without end is cut.
func (s *Site) Plain(message string) string {
	message = endless.ReplaceAllString(message, "$1…")
	var plain strings.Builder
	end := 0
	for _, at := range example.FindAllStringIndex(message, -1) {
		plain.WriteString(s.spoken(message[end:at[0]]))
		plain.WriteString(message[at[0]:at[1]])
		end = at[1]
	}
	plain.WriteString(s.spoken(message[end:]))
	return Sentence(plain.String())
}

func (s *Site) spoken(message string) string {
	message = instant.ReplaceAllStringFunc(message, func(text string) string {
		for _, layout := range []string{time.RFC3339Nano, "2006-01-02 15:04 UTC"} {
			if t, err := time.Parse(layout, text); err == nil {
				return t.In(s.Zone).Format("2 Jan, 15:04")
			}
		}
		return text
	})
	message = numbered.ReplaceAllStringFunc(resourceName.ReplaceAllString(message, "$1"), Thing)
	return localDate.ReplaceAllStringFunc(message, day)
}

// kindWord turns the collection of a resource name into what people call one of it: "packLots" into "pack lot".
func kindWord(collection string) string {
	var word strings.Builder
	one := strings.TrimSuffix(collection, "s")
	switch {
	case strings.HasSuffix(collection, "sses"), strings.HasSuffix(collection, "ches"):
		one = strings.TrimSuffix(collection, "es")
	case strings.HasSuffix(collection, "ies"):
		one = strings.TrimSuffix(collection, "ies") + "y"
	}
	for _, r := range one {
		if unicode.IsUpper(r) {
			word.WriteByte(' ')
		}
		word.WriteRune(unicode.ToLower(r))
	}
	return word.String()
}

// BadLine says which of the pasted lines, counted from 0, cannot be read.
func (f *Form) BadLine(field string, n int, want string) {
	f.Problem = fmt.Sprintf("Line %d of %s cannot be read: it needs %s, with semicolons or tabs between them.", n+1, field, want)
	f.faults[field] = f.Problem
}
