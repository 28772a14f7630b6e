package paper

import (
	"fmt"
	"regexp"
	"strconv"

	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/checkdigit"
)

// digitsBeforeCheck is what an SSCC holds beside its check digit: extension digit, company prefix and serial reference
// (AI 00, "N18 check digit": GS1 syntax dictionary).
const digitsBeforeCheck = 17

// layout is how many digits of an SSCC beside the prefix say which ticket of a year and which line of it. Two more say
// the year.
type layout struct{ ordinal, line int }

// layouts by length of the company prefix. A number is never given to two barrels of one century: intake numbers the
// tickets of a site and year without gaps, and a barrel stays on one line of its first ticket for ever. The extension
// digit is taken as one more digit of the serial, which the standard leaves to the company.
var layouts = map[int]layout{7: {5, 3}, 8: {5, 2}, 9: {4, 2}}

var prefixPattern = regexp.MustCompile(`^[0-9]{7,9}$`)

// CheckPrefix says what is wrong with a GS1 company prefix, or nothing. Empty is no prefix. Prefixes of ten digits and
// more leave too few numbers for one barrel each.
func CheckPrefix(prefix string) string {
	if prefix == "" || prefixPattern.MatchString(prefix) {
		return ""
	}
	return fmt.Sprintf("is %q, must be 7 to 9 digits: a longer company prefix leaves too few numbers to give each barrel its own", prefix)
}

var ticketNumber = regexp.MustCompile(`^[A-Z]{1,6}-([0-9]{4})-([0-9]{6,})$`)

// sscc gives a barrel its 18 digits: two of the year, the ordinal of its first ticket and its line on it, split around the
// company prefix, and the check digit. It can be read back by eye and needs no table of its own.
func sscc(prefix, number string, line int) (string, error) {
	l, known := layouts[len(prefix)]
	found := ticketNumber.FindStringSubmatch(number)
	if !known || found == nil || line < 1 {
		return "", apierr.State(number, "NO_NUMBER", fmt.Sprintf("line %d of ticket %q cannot be numbered under prefix %q", line, number, prefix))
	}
	ordinal, err := strconv.ParseUint(found[2], 10, 63)
	if err != nil || len(strconv.FormatUint(ordinal, 10)) > l.ordinal || len(strconv.Itoa(line)) > l.line {
		return "", apierr.State(number, "NO_NUMBER", fmt.Sprintf(
			"line %d of ticket %s does not fit in a shipping container code under the prefix %s, which has room for %d digits of ticket and %d of line: ask for a shorter company prefix",
			line, number, prefix, l.ordinal, l.line))
	}
	serial := fmt.Sprintf("%s%0*d%0*d", found[1][2:], l.ordinal, ordinal, l.line, line)
	body := serial[:1] + prefix + serial[1:]
	if len(body) != digitsBeforeCheck {
		return "", fmt.Errorf("a code of %d digits instead of %d", len(body), digitsBeforeCheck)
	}
	check, err := checkdigit.GS1(body)
	if err != nil {
		return "", fmt.Errorf("check digit of %s: %w", body, err)
	}
	return body + check, nil
}
