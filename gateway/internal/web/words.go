package web

import (
	"fmt"
	"html/template"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/google/uuid"
	"google.golang.org/protobuf/types/known/timestamppb"

	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

// minus is the sign people read; a hyphen is lost at the end of a line.
const minus = "−"

var roleWords = map[string]string{
	"DOCK": "dock", "LAB": "laboratory", "LAB_LEAD": "laboratory lead", "WAREHOUSE": "warehouse", "LINE": "packing line",
	"OFFICE": "office", "TREASURER": "treasurer", "BOARD": "board", "AUDITOR": "auditor", "MEMBER": "member",
	"ADMINISTRATOR": "administrator",
}

// functions of the templates. They only write what they are given: arithmetic belongs to the services.
func (s *site) functions() template.FuncMap {
	return template.FuncMap{
		"mass": mass, "money": money, "price": price, "negative": negative, "day": day, "minute": s.minute, "clock": s.clockTime,
		"words": words, "sentence": sentence, "id": idOf, "plural": plural, "person": person, "thing": thing,
		"input": newInput, "pick": newPick, "options": newOptions, "last": lastOf, "gauge": drawGauge, "bars": drawBars, "portion": portion, "roles": rolesInWords, "left": left, "limit": limitWords, "flow": drawFlow, "strip": drawStrip, "compare": compareMoney, "steps": steps, "chunks": chunks, "upper": strings.ToUpper, "trim": func(text string) string { return strings.TrimSuffix(text, ".") },
	}
}

// mass writes "15,391.5 lb".
func mass(m *typev1.Mass) string {
	if m == nil {
		return "–"
	}
	return grouped(m.GetValue()) + "\u00a0" + strings.ToLower(m.GetUnit())
}

// money writes "$1,521.84" and "−$704.00"; currencies without a sign of their own get their code.
func money(m *typev1.Money) string {
	if m == nil {
		return "–"
	}
	amount, sign := m.GetAmount(), ""
	if rest, below := strings.CutPrefix(amount, "-"); below {
		amount, sign = rest, minus
	}
	return sign + currency(m.GetCurrencyCode()) + grouped(amount)
}

func currency(code string) string {
	switch code {
	case "USD", "CAD", "AUD", "NZD":
		return "$"
	case "EUR":
		return "€"
	case "GBP":
		return "£"
	default:
		return code + "\u00a0"
	}
}

func negative(m *typev1.Money) bool { return strings.HasPrefix(m.GetAmount(), "-") }

// price writes "$1.10 per lb".
func price(p *typev1.Price) string {
	if p == nil {
		return "–"
	}
	amount, sign := p.GetAmount(), ""
	if rest, below := strings.CutPrefix(amount, "-"); below {
		amount, sign = rest, minus
	}
	return sign + currency(p.GetCurrencyCode()) + amount + " per\u00a0" + strings.ToLower(p.GetPerUnit())
}

// grouped puts commas between thousands.
func grouped(number string) string {
	sign := ""
	if rest, below := strings.CutPrefix(number, "-"); below {
		sign, number = minus, rest
	}
	whole, fraction, has := strings.Cut(number, ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if has {
		whole += "." + fraction
	}
	return sign + whole
}

// day writes a local date "2026-09-14" as "14 Sep 2026".
func day(date string) string {
	t, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return date
	}
	return t.Format("2 Jan 2006")
}

// minute writes an instant in the cooperative's time.
func (s *site) minute(t *timestamppb.Timestamp) string {
	if t == nil {
		return "–"
	}
	return t.AsTime().In(s.zone).Format("2 Jan 2006, 15:04")
}

func (s *site) clockTime(t *timestamppb.Timestamp) string {
	if t == nil {
		return "–"
	}
	return t.AsTime().In(s.zone).Format("15:04")
}

// words turns a value of the wire into words: EXTRA_LIGHT_AMBER, TICKET_STATE_CLOSED.
func words(value any) string {
	text := fmt.Sprint(value)
	for _, prefix := range enumPrefixes {
		text = strings.TrimPrefix(text, prefix)
	}
	return spelling.Replace(strings.ToLower(strings.ReplaceAll(text, "_", " ")))
}

// spelling is that of the pages; the wire has its own.
var spelling = strings.NewReplacer("color", "colour", "flavor", "flavour")

var enumPrefixes = []string{
	"TICKET_STATE_", "TARE_KIND_", "SAMPLE_STATE_", "READING_KIND_", "FACTOR_", "STYLE_", "HOLD_CODE_", "STOCK_STATE_",
	"SCHEDULE_STATE_", "PAYOUT_KIND_", "LOT_STATE_", "NET_UNIT_", "BLEND_STATUS_", "BLEND_LIMIT_", "ENCUMBRANCE_KIND_", "PAYMENT_STATE_", "PAYMENT_FORMAT_", "LINE_KIND_", "CONTROL_VERDICT_", "POOL_STATE_", "POOL_ENTRY_KIND_", "RUN_STATE_", "LOSS_CODE_", "AUTHENTICITY_", "DEDUCTION_BASIS_", "TOLERANCE_KIND_", "ACCURACY_CLASS_", "ROLE_", "CONTAINER_", "DRUM_OWNERSHIP_", "FINDING_OUTCOME_", "APPEAL_STAGE_", "APPEAL_STATE_", "APPEAL_FEE_",
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

func lastOf(name string) string { return name[strings.LastIndex(name, "/")+1:] }

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

// plural writes "1 barrel", "2 barrels".
func plural(n any, one, many string) string {
	text := fmt.Sprint(n)
	if text == "1" {
		return "1 " + one
	}
	return grouped(text) + " " + many
}
