package site

import (
	"fmt"
	"html/template"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/google/uuid"
	"google.golang.org/protobuf/types/known/timestamppb"

	"barrelhead.example/gateway/internal/wording"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/quantity"
)

// The house's wording as a screen shows it.
var (
	mass    = wording.Screen.Mass
	money   = wording.Screen.Money
	price   = wording.Screen.Price
	grouped = wording.Grouped
	day     = wording.Day
	words   = wording.Words
	plural  = wording.Plural
	lastOf  = wording.Last
)

var roleWords = map[string]string{
	"DOCK": "dock", "LAB": "laboratory", "LAB_LEAD": "laboratory lead", "WAREHOUSE": "warehouse", "LINE": "packing line",
	"OFFICE": "office", "TREASURER": "treasurer", "BOARD": "board", "AUDITOR": "auditor", "MEMBER": "member",
	"ADMINISTRATOR": "administrator", "LOGGER": "temperature logger",
}

// functions of the templates. They only write what they are given: arithmetic belongs to the services.
func (s *Site) functions() template.FuncMap {
	return template.FuncMap{
		"mass": mass, "measured": wording.Screen.Measured, "money": money, "price": price, "negative": Negative, "day": day,
		"minute": s.Minute, "clock": s.clockTime, "words": words, "sentence": Sentence, "id": IDOf, "plural": plural,
		"month": wording.Month, "person": Person, "thing": Thing, "input": newInput, "pick": newPick, "options": NewOptions,
		"last": lastOf, "bars": DrawBars, "address": PlaceAddress, "fahrenheit": Fahrenheit, "chunks": chunks,
		"upper": strings.ToUpper, "grade": GradeWord, "count": inThousands, "plain": s.Plain,
		"trim": func(text string) string { return strings.TrimSuffix(text, ".") },
	}
}

// Negative reports whether an amount is below zero.
func Negative(m *typev1.Money) bool { return strings.HasPrefix(m.GetAmount(), "-") }

// Minute writes an instant in the cooperative's time.
func (s *Site) Minute(t *timestamppb.Timestamp) string {
	if t == nil {
		return wording.None
	}
	return t.AsTime().In(s.Zone).Format("2 Jan 2006, 15:04")
}

func (s *Site) clockTime(t *timestamppb.Timestamp) string {
	if t == nil {
		return wording.None
	}
	return t.AsTime().In(s.Zone).Format("15:04")
}

// Sentence begins with a capital and ends with a point.
func Sentence(text string) string {
	text = strings.TrimSpace(text)
	if text == "" {
		return ""
	}
	first, size := utf8.DecodeRuneInString(text)
	text = string(unicode.ToUpper(first)) + text[size:]
	if strings.ContainsAny(text[len(text)-1:], ".!?") {
		return text
	}
	return text + "."
}

// IDOf is the last part of a resource name, for addresses.
func IDOf(name string) string {
	_, id, found := strings.Cut(name, "/")
	if !found {
		return name
	}
	return id
}

// Thing names a resource for people: "pack lot FC26257L1A", "charge 5d7e3a10"; of a long id the first part tells two apart.
func Thing(name string) string {
	kind, id, found := strings.Cut(name, "/")
	if !found {
		return name
	}
	if _, err := uuid.Parse(id); err == nil {
		id = id[:8]
	}
	if kind == "stock" {
		kind = "barrel"
	}
	return kindWord(kind) + " " + strings.ReplaceAll(id, "_", " ")
}

// GradeWord writes a grade of a letter large, and any other in small letters as all words are.
func GradeWord(grade any) string {
	if word := words(grade); len(word) > 1 {
		return word
	}
	return strings.ToUpper(words(grade))
}

// inThousands writes a number of things with its thousands apart.
func inThousands(n any) string { return grouped(fmt.Sprint(n)) }

// Person writes "users/dock1" as "dock1".
func Person(login string) string { return strings.TrimPrefix(login, "users/") }

// chunks parts a code into threes for the eye; copied, it is still one word.
func chunks(code string) []string {
	var parts []string
	for len(code) > 3 {
		parts, code = append(parts, code[:3]), code[3:]
	}
	return append(parts, code)
}

// Fahrenheit writes tenths of a degree Celsius as people with such a thermometer read them, half up.
func Fahrenheit(celsius string) string {
	tenths, err := quantity.ParseFixed(celsius, 1)
	if err != nil {
		return "?"
	}
	return quantity.FormatFixed((tenths*18+5)/10+320, 1, 1)
}
