package site

import (
	"errors"
	"fmt"
	"net/http"
	"regexp"
	"strconv"
	"strings"

	"barrelhead.example/gateway/internal/edge"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/apierr"
)

// File is what a page hands out to be saved.
type File struct {
	Name, Kind string
	Content    []byte
}

// mostFile of an upload is kept in memory: all of it, since the gateway bounds the whole body.
const mostFile = edge.MostLog

// readForm reads typed fields, and files where a page takes one.
func (v *Visit) readForm() error {
	err := v.ParseForm() // which the next would do, and forget that too much was pasted
	if _, tooLarge := errors.AsType[*http.MaxBytesError](err); !tooLarge {
		err = v.ParseMultipartForm(mostFile)
	}
	if tooLarge, is := errors.AsType[*http.MaxBytesError](err); is {
		return apierr.Field("file", fmt.Sprintf("is too large: at most %d MB are taken at once; send it in parts, each with its first row", tooLarge.Limit>>20))
	}
	if err != nil && !errors.Is(err, http.ErrNotMultipart) {
		return apierr.Field("form", "could not be read; open the page again")
	}
	return edge.LegibleForm(v.PostForm)
}

// Task does what a form asks for and goes on to the address act answers; refused, it shows the form with what is wrong.
func (s *Site) Task(v *Visit, f *Form, act func() (string, error), show func() (View, error)) (View, error) {
	if v.Posted {
		next, err := act()
		if err == nil {
			return View{GoTo: next}, nil
		}
		if !f.Refused(v, err) {
			return View{}, err
		}
	}
	return show()
}

// PlainTask is a task whose page needs nothing but its form and what is given here.
func (s *Site) PlainTask(v *Visit, f *Form, name, title string, data map[string]any, act func() (string, error)) (View, error) {
	return s.Task(v, f, act, func() (View, error) {
		data["Form"], data["Unit"], data["Currency"] = f, words(s.Cooperative.Unit), s.Cooperative.Currency
		return View{Page: name, Title: title, Data: data}, nil
	})
}

// thousands is a number with commas that cannot be meant as points.
var thousands = regexp.MustCompile(`^[0-9]{1,3}(,[0-9]{3})+([.][0-9]+)?$`)

// MassOr is a typed weight, or none for an empty field.
func (s *Site) MassOr(typed string) *typev1.Mass {
	if typed == "" {
		return nil
	}
	return s.TypedMass(typed)
}

// TypedMoney reads an amount as people write it: "$1,250.00". A comma that parts no thousands stays, and is refused: "1,50" is
// neither 1.50 nor 150 for certain.
func (s *Site) TypedMoney(typed string) *typev1.Money {
	if typed == "" {
		return nil
	}
	amount, negative := strings.CutPrefix(typed, "-")
	amount = strings.TrimPrefix(amount, "$")
	if thousands.MatchString(amount) {
		amount = strings.ReplaceAll(amount, ",", "")
	}
	if negative {
		amount = "-" + amount
	}
	return &typev1.Money{Amount: amount, CurrencyCode: s.Cooperative.Currency}
}

// Number takes a comma for a point.
func Number(typed string) string { return strings.ReplaceAll(typed, ",", ".") }

// MemberName reads what people type for a member: "M-0012", "m-0012", "12".
func MemberName(typed string) string {
	typed = strings.ToUpper(strings.TrimSpace(typed))
	// A choice from the list comes as "M-0012 Juniper Yard".
	typed, _, _ = strings.Cut(typed, " ")
	if _, err := strconv.ParseUint(typed, 10, 32); err == nil {
		typed = "M-" + strings.Repeat("0", max(4-len(typed), 0)) + typed
	}
	if typed == "" {
		return ""
	}
	return "members/" + typed
}

// Upper reads a code, which is written in capitals.
func Upper(typed string) string { return strings.ToUpper(strings.TrimSpace(typed)) }

// TypedPrice reads a price in the house's currency and unit.
func (s *Site) TypedPrice(typed string) *typev1.Price {
	return &typev1.Price{Amount: strings.TrimPrefix(typed, "$"), CurrencyCode: s.Cooperative.Currency, PerUnit: s.Cooperative.Unit}
}

// LinesOf parts pasted lines into cells at tabs or, without one, semicolons.
func LinesOf(text string) [][]string {
	var lines [][]string
	for line := range strings.Lines(text) {
		line = strings.TrimSpace(line)
		if line == "" {
			continue
		}
		separator := ";"
		if strings.Contains(line, "\t") {
			separator = "\t"
		}
		cells := strings.Split(line, separator)
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		lines = append(lines, cells)
	}
	return lines
}

// Few is Count for numbers nobody means when they are very large; below zero stays below zero, for the service to refuse.
func Few(typed string) int32 { return int32(max(min(Count(typed), 1<<20), -1)) }

// Count reads a whole number; what is none is refused by its range.
func Count(typed string) int64 {
	n, _ := strconv.ParseInt(typed, 10, 64) // zero is below every least value
	return n
}

// TypedMass takes a comma for a point, unless thousands are set apart by it: "12,000" is not twelve. Whether it is a number is for
// the service to say.
func (s *Site) TypedMass(typed string) *typev1.Mass {
	if thousands.MatchString(typed) {
		typed = strings.ReplaceAll(typed, ",", "")
	}
	return &typev1.Mass{Value: strings.ReplaceAll(typed, ",", "."), Unit: s.Cooperative.Unit}
}
