package web

import (
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"

	"github.com/google/uuid"
	"google.golang.org/grpc/codes"

	"barrelhead.example/gateway/internal/rest"
)

// form is one task: what was typed, under one request_id from the first time the page is opened until the task is done.
// So a button pressed twice, or again after the network died, has one effect.
type form struct {
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

// form reads what was sent, or begins anew with the page's query as first values.
func (v *visit) form() *form {
	f := &form{values: map[string]string{}, faults: map[string]string{}, rows: map[string][]row{}}
	v.forms = append(v.forms, f)
	given := v.URL.Query()
	if v.posted {
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
func (f *form) Value(name string) string { return f.values[name] }

// set gives a field a first value, unless something was typed.
func (f *form) set(name, value string) {
	if _, typed := f.values[name]; !typed {
		f.values[name] = value
	}
}

// TooMuch reports whether more came out of a lot than went in: no loss explains that.
func (f *form) TooMuch() bool { return strings.HasPrefix(f.Difference, "-") }

// Fault is what is wrong with a field; empty for nothing.
func (f *form) Fault(name string) string { return f.faults[name] }

// refused takes a refusal a person can answer on the same page and reports whether it was one.
func (f *form) refused(v *visit, err error) bool {
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
		message := legibly(f.asTyped(path, v.site.byName(v, fault.Message)))
		for _, name := range path {
			if f.faults[name] == "" {
				f.faults[name] = v.site.plain(message)
			}
		}
		f.said = append(f.said, saying{segments(fault.Field), where, message})
	}
	f.Problem = v.site.plain(v.site.byName(v, refusal.Message))
	f.Difference = refusal.Metadata["difference"]
	if refusal.Reason != "FIELD_INVALID" {
		f.said = nil
	}
	f.readOn(v.site, "")
	if kind, id, named := strings.Cut(refusal.Metadata["resource"], "/"); code == codes.NotFound && named {
		f.Problem = v.site.plain("There is no " + kindWord(kind) + " " + id + ". Check it and try again.")
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

// plain writes names, times and dates of a message as people say them: "members/M-0003" is M-0003 to everybody, and the
// clock is the cooperative's own. What was pasted without end is cut.
func (s *site) plain(message string) string {
	message = endless.ReplaceAllString(message, "$1…")
	var plain strings.Builder
	end := 0
	for _, at := range example.FindAllStringIndex(message, -1) {
		plain.WriteString(s.spoken(message[end:at[0]]))
		plain.WriteString(message[at[0]:at[1]])
		end = at[1]
	}
	plain.WriteString(s.spoken(message[end:]))
	return sentence(plain.String())
}

func (s *site) spoken(message string) string {
	message = instant.ReplaceAllStringFunc(message, func(text string) string {
		for _, layout := range []string{time.RFC3339Nano, "2006-01-02 15:04 UTC"} {
			if t, err := time.Parse(layout, text); err == nil {
				return t.In(s.zone).Format("2 Jan, 15:04")
			}
		}
		return text
	})
	message = numbered.ReplaceAllStringFunc(resourceName.ReplaceAllString(message, "$1"), thing)
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
