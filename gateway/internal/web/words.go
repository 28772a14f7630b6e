package web

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
func (s *site) functions() template.FuncMap {
	return template.FuncMap{
		"mass": mass, "limitGroups": limitGroups, "advances": advances, "differentials": differentials, "measured": wording.Screen.Measured, "money": money, "price": price, "negative": negative, "day": day, "minute": s.minute, "clock": s.clockTime,
		"words": words, "sentence": sentence, "id": idOf, "plural": plural, "month": wording.Month, "person": person, "thing": thing,
		"input": newInput, "pick": newPick, "options": newOptions, "last": lastOf, "gauge": drawGauge, "bars": drawBars, "portion": portion, "roles": rolesInWords, "left": left, "limit": limitWords, "container": labels(containerOptions), "moved": labels(containerMoves), "capital": labels(capitalKinds), "outcome": labels(disputeOutcomes), "charge": labels(chargeKinds), "loanfor": labels(loanPurposes), "daycount": labels(dayCounts), "flow": drawFlow, "strip": drawStrip, "held": heldName, "address": placeAddress, "fahrenheit": fahrenheit, "minutes": stopwatch, "compare": compareMoney, "steps": steps, "chunks": chunks, "upper": strings.ToUpper, "grade": gradeWord, "count": inThousands, "looked": looked, "plain": s.plain, "kind": kindAddress, "unit": withUnit, "beyond": beyond, "trim": func(text string) string { return strings.TrimSuffix(text, ".") },
	}
}

func negative(m *typev1.Money) bool { return strings.HasPrefix(m.GetAmount(), "-") }

// minute writes an instant in the cooperative's time.
func (s *site) minute(t *timestamppb.Timestamp) string {
	if t == nil {
		return wording.None
	}
	return t.AsTime().In(s.zone).Format("2 Jan 2006, 15:04")
}

func (s *site) clockTime(t *timestamppb.Timestamp) string {
	if t == nil {
		return wording.None
	}
	return t.AsTime().In(s.zone).Format("15:04")
}

// sentence begins with a capital and ends with a point.
func sentence(text string) string {
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

// idOf is the last part of a resource name, for addresses.
func idOf(name string) string {
	_, id, found := strings.Cut(name, "/")
	if !found {
		return name
	}
	return id
}

// thing names a resource for people: "pack lot FC26257L1A", "charge 5d7e3a10"; of a long id the first part tells two apart.
func thing(name string) string {
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

// gradeWord writes a grade of a letter large, and any other in small letters as all words are.
func gradeWord(grade any) string {
	if word := words(grade); len(word) > 1 {
		return word
	}
	return strings.ToUpper(words(grade))
}

// inThousands writes a number of things with its thousands apart.
func inThousands(n any) string { return grouped(fmt.Sprint(n)) }

// looked says how somebody came to see a record: by its page, or in a list of many.
func looked(method string) string {
	if strings.HasPrefix(method, "List") {
		return "in a list"
	}
	return "opened"
}

// person writes "users/dock1" as "dock1".
func person(login string) string { return strings.TrimPrefix(login, "users/") }

// steps parts a calculation into its lines.
func steps(calculation string) []string { return strings.SplitAfter(calculation, "; ") }

// chunks parts a code into threes for the eye; copied, it is still one word.
func chunks(code string) []string {
	var parts []string
	for len(code) > 3 {
		parts, code = append(parts, code[:3]), code[3:]
	}
	return append(parts, code)
}
