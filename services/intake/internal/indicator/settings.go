package indicator

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/quantity"
)

// Settings teach one indicator. Texts are compared without the spaces around them.
type Settings struct {
	// Address is "tcp://host:port" or "serial:///dev/ttyUSB0?baud=9600&parity=none&data=8&stop=1".
	Address string `json:"address"`
	// Pattern is a regular expression (RE2) for one whole line, without its terminator. Its named groups: weight, required:
	// digits with an optional sign and point, spaces anywhere; unit; stable, the mark of motion; gross, the mark of gross or
	// net. Without a group stable the weight must stand still for a while; without gross every weight is taken for gross.
	Pattern string `json:"pattern"`
	// Terminator ends every line, 1 to 4 bytes; "\r\n" when empty.
	Terminator string `json:"terminator"`
	// LongestLine is how many bytes a line may have, 4 to 200; 100 when 0. Whatever is longer is no line.
	LongestLine int `json:"longest_line"`
	// Unit is "LB" or "KG": what is sent when the pattern has no group unit.
	Unit string `json:"unit"`
	// UnitTexts say what the group unit means, e.g. {"lb": "LB"}; lb, lbs and kg in either case when empty.
	UnitTexts map[string]string `json:"unit_texts"`
	// DecimalMark is "." or ","; "." when empty. The other one makes a line unreadable.
	DecimalMark string `json:"decimal_mark"`
	// StableTexts and MotionTexts are what the group stable says.
	StableTexts []string `json:"stable_texts"`
	MotionTexts []string `json:"motion_texts"`
	// GrossTexts and NetTexts are what the group gross says.
	GrossTexts []string `json:"gross_texts"`
	NetTexts   []string `json:"net_texts"`
	// OverTexts and UnderTexts are what the group stable or weight says beyond the range of the indicator.
	OverTexts  []string `json:"over_range_texts"`
	UnderTexts []string `json:"under_load_texts"`
	// SilentAfter is how long no line may come; 2 s when zero, at least 100 ms.
	SilentAfter config.Duration `json:"silent_after"`
	// SettleFor is how long a weight must stand still when the line has no mark of motion; 1.5 s when zero, at least 1 s.
	SettleFor config.Duration `json:"settle_for"`
	// StuckAfter is how long the same moving line may come; 5 s when zero.
	StuckAfter config.Duration `json:"stuck_after"`
	// StillAfter is how long a weight above zero may stand without any change; 10 min when zero.
	StillAfter config.Duration `json:"still_after"`
}

const (
	standardLongest = 100
	// mostLongest is what a weighing keeps of a raw indication.
	mostLongest  = 200
	leastLongest = 4
	mostEnd      = 4

	// Our own limits: an indicator in continuous output sends several lines a second.
	standardSilence = 2 * time.Second
	leastSilence    = 100 * time.Millisecond
	// At least a second of equal readings where there is no mark of motion: common practice, no source.
	standardSettle = 1500 * time.Millisecond
	leastSettle    = time.Second
	// A moving load changes what is shown within seconds, and a barrel comes off the scale within minutes.
	standardStuck = 5 * time.Second
	standardStill = 10 * time.Minute
)

func (s Settings) withDefaults() Settings {
	s.Terminator = cmp.Or(s.Terminator, "\r\n")
	s.LongestLine = cmp.Or(s.LongestLine, standardLongest)
	s.DecimalMark = cmp.Or(s.DecimalMark, ".")
	s.SilentAfter = cmp.Or(s.SilentAfter, config.Duration(standardSilence))
	s.SettleFor = cmp.Or(s.SettleFor, config.Duration(standardSettle))
	s.StuckAfter = cmp.Or(s.StuckAfter, config.Duration(standardStuck))
	s.StillAfter = cmp.Or(s.StillAfter, config.Duration(standardStill))
	if len(s.UnitTexts) == 0 {
		s.UnitTexts = map[string]string{"lb": "LB", "LB": "LB", "lbs": "LB", "LBS": "LB", "kg": "KG", "KG": "KG"}
	}
	return s
}

// Check lists everything wrong with the settings. Paths are relative.
func (s Settings) Check() []config.Fault {
	s = s.withDefaults()
	faults := s.checkLimits()
	if _, err := parseAddress(s.Address); err != nil {
		faults = append(faults, config.Fault{Path: "address", Message: err.Error()})
	}
	if _, err := newGrammar(s, quantity.LB); err != nil {
		faults = append(faults, config.Fault{Path: "pattern", Message: err.Error()})
	}
	return append(faults, s.checkTexts()...)
}

func (s Settings) checkLimits() []config.Fault {
	var faults []config.Fault
	must := func(ok bool, path, format string, args ...any) {
		if !ok {
			faults = append(faults, config.Fault{Path: path, Message: fmt.Sprintf(format, args...)})
		}
	}
	must(len(s.Terminator) <= mostEnd, "terminator", "has %d bytes, must have 1 to %d", len(s.Terminator), mostEnd)
	must(s.LongestLine >= leastLongest && s.LongestLine <= mostLongest, "longest_line", "is %d, must be %d to %d bytes",
		s.LongestLine, leastLongest, mostLongest)
	must(s.DecimalMark == "." || s.DecimalMark == ",", "decimal_mark", "is %q, must be a point or a comma", s.DecimalMark)
	must(s.SilentAfter >= config.Duration(leastSilence), "silent_after", "is %s, must be at least %s",
		time.Duration(s.SilentAfter), leastSilence)
	must(s.SettleFor >= config.Duration(leastSettle), "settle_for", "is %s, must be at least %s", time.Duration(s.SettleFor), leastSettle)
	must(s.StuckAfter > 0, "stuck_after", "is %s, must be above zero", time.Duration(s.StuckAfter))
	must(s.StillAfter > 0, "still_after", "is %s, must be above zero", time.Duration(s.StillAfter))
	return faults
}

// checkTexts refuses a text with two meanings: which one counted would be chance.
func (s Settings) checkTexts() []config.Fault {
	faults := apart(map[string][]string{
		"stable_texts": s.StableTexts, "motion_texts": s.MotionTexts, "over_range_texts": s.OverTexts, "under_load_texts": s.UnderTexts,
	})
	faults = append(faults, apart(map[string][]string{"gross_texts": s.GrossTexts, "net_texts": s.NetTexts})...)
	for _, text := range slices.Sorted(maps.Keys(s.UnitTexts)) {
		if unit := s.UnitTexts[text]; unit != "LB" && unit != "KG" {
			faults = append(faults, config.Fault{Path: "unit_texts." + text, Message: fmt.Sprintf("is %q, must be LB or KG", unit)})
		}
	}
	return faults
}

func apart(lists map[string][]string) []config.Fault {
	var faults []config.Fault
	seen := map[string]string{}
	for _, path := range slices.Sorted(maps.Keys(lists)) {
		for _, text := range lists[path] {
			text = strings.TrimSpace(text)
			if other, taken := seen[text]; taken && other != path {
				faults = append(faults, config.Fault{Path: path, Message: fmt.Sprintf("has %q, which %s has too", text, other)})
			}
			seen[text] = path
		}
	}
	return faults
}
