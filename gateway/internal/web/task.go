package web

import (
	"errors"
	"fmt"
	"maps"
	"net/http"
	"regexp"
	"strings"

	"barrelhead.example/gateway/internal/edge"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/apierr"
)

// everyPage is every page behind the sign-in, room by room.
func (s *site) everyPage() map[string]page {
	all := s.table()
	for _, room := range []map[string]page{s.lotPages(), s.lossPages(), s.netPages(), s.linePages(), s.salesPages(), s.returnPages(), s.keptPages(), s.recordPages(), s.claimPages(), s.dockPages(), s.secondLookPages(), s.outsidePages(), s.oversightPages(), s.moneyPages(), s.poolMoneyPages(), s.memberPages(), s.accountPages(), s.yearEndPages()} {
		maps.Copy(all, room)
	}
	return all
}

// file is what a page hands out to be saved.
type file struct {
	name, kind string
	content    []byte
}

// mostFile of an upload is kept in memory: all of it, since the gateway bounds the whole body.
const mostFile = edge.MostLog

// readForm reads typed fields, and files where a page takes one.
func (v *visit) readForm() error {
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

// task does what a form asks for and goes on to the address act answers; refused, it shows the form with what is wrong.
func (s *site) task(v *visit, f *form, act func() (string, error), show func() (view, error)) (view, error) {
	if v.posted {
		next, err := act()
		if err == nil {
			return view{goTo: next}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	return show()
}

// plainTask is a task whose page needs nothing but its form and what is given here.
func (s *site) plainTask(v *visit, f *form, name, title string, data map[string]any, act func() (string, error)) (view, error) {
	return s.task(v, f, act, func() (view, error) {
		data["Form"], data["Unit"], data["Currency"] = f, words(s.Cooperative.Unit), s.Cooperative.Currency
		return view{page: name, title: title, data: data}, nil
	})
}

// thousands is a number with commas that cannot be meant as points.
var thousands = regexp.MustCompile(`^[0-9]{1,3}(,[0-9]{3})+([.][0-9]+)?$`)

// massOr is a typed weight, or none for an empty field.
func (s *site) massOr(typed string) *typev1.Mass {
	if typed == "" {
		return nil
	}
	return s.typedMass(typed)
}

// typedMoney reads an amount as people write it: "$1,250.00". A comma that parts no thousands stays, and is refused: "1,50" is
// neither 1.50 nor 150 for certain.
func (s *site) typedMoney(typed string) *typev1.Money {
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

// badLines is the refusal of pasted lines that cannot be read; the form says which.
func badLines(f *form) error { return apierr.Field("lines", strings.TrimSuffix(f.Problem, ".")) }
