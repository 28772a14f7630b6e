package indicator

import (
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/quantity"
)

// marked is a form with everything a line can have.
func marked() Settings {
	return Settings{
		Address: "tcp://127.0.0.1:1", Pattern: `(?P<stable>[SMOU?]) (?P<gross>[GNX]) (?P<weight>[-+_ 0-9.]{10}) (?P<unit>[a-z]{1,3})`,
		StableTexts: []string{"S"}, MotionTexts: []string{"M"}, GrossTexts: []string{"G"}, NetTexts: []string{"N"},
		OverTexts: []string{"O"}, UnderTexts: []string{"U", "__________"},
	}
}

// bare is a line with nothing but a number, such as "\x02  684,5".
func bare() Settings {
	return Settings{
		Address: "tcp://127.0.0.1:1", Pattern: `\x02(?P<weight>[ +-]*[0-9,. ]+)`, Terminator: "\x03", DecimalMark: ",", Unit: "KG",
	}
}

func read(t *testing.T, s Settings, house quantity.Unit, line string) reading {
	t.Helper()
	require.Empty(t, s.Check())
	g, err := newGrammar(s.withDefaults(), house)
	require.NoError(t, err)
	return g.read([]byte(line))
}

func TestALineIsReadByItsForm(t *testing.T) {
	t.Parallel()
	// A blank can be the mark of a weight that stands still, and marks can follow the unit.
	trailing := Settings{
		Address: "tcp://127.0.0.1:1", Pattern: `(?P<weight>[+-][0-9]{5}\.[0-9]|OVERLOAD) *(?P<unit>LB|KG)?(?P<stable>[ *])`,
		StableTexts: []string{" "}, MotionTexts: []string{"*"}, OverTexts: []string{"OVERLOAD"},
	}
	for _, c := range []struct {
		form   Settings
		house  quantity.Unit
		line   string
		state  State
		weight string
	}{
		{marked(), "LB", "S G      684.5 lb", Stable, "684.5"},
		{marked(), "LB", "S G +    684.5 lb", Stable, "684.5"},
		{marked(), "LB", "S G        0.0 lb", Stable, "0.0"},
		{marked(), "LB", "S G       -0.0 lb", Stable, "0.0"},
		{marked(), "LB", "S G      684.  lb", Stable, "684.0"},
		{marked(), "LB", "M G      684.5 lb", Moving, "684.5"},
		{marked(), "LB", "M G -      0.5 lb", Moving, "-0.5"},
		{marked(), "LB", "S G -      0.5 lb", UnderLoad, "-0.5"},
		{marked(), "LB", "S N      684.5 lb", Net, "684.5"},
		{marked(), "LB", "O G ---------- lb", OverRange, ""},
		{marked(), "LB", "U G      684.5 lb", UnderLoad, ""},
		{marked(), "LB", "S G __________ lb", UnderLoad, ""},
		{marked(), "LB", "S G      310.5 kg", WrongUnit, ""},
		{marked(), "KG", "S G      310.5 kg", Stable, "310.5"},
		{marked(), "LB", "S G      310.5 oz", WrongUnit, ""},
		{marked(), "LB", "? G      684.5 lb", Unreadable, "684.5"},
		{marked(), "LB", "S X      684.5 lb", Unreadable, "684.5"},
		{marked(), "LB", "S G      6 8.4.5 lb", Unreadable, ""},
		{marked(), "LB", "S G     68.4.5 lb", Unreadable, ""},
		{marked(), "LB", "S G   684.5000 lb", Unreadable, ""},
		{marked(), "LB", "S G +-   684.5 lb", Unreadable, ""},
		{marked(), "LB", "S G            lb", Unreadable, ""},
		{marked(), "LB", "S G 9999999999 lb", Unreadable, ""},
		{marked(), "LB", "S G      684.5 lb ", Unreadable, ""},
		{marked(), "LB", "S G      684.5 lb\nS", Unreadable, ""},
		{marked(), "LB", " G      684.5 lb", Unreadable, ""},
		{marked(), "LB", "", Unreadable, ""},
		{marked(), "LB", "S G      684.\xb5 lb", Unreadable, ""},
		{marked(), "LB", "S G      684.\x00 lb", Unreadable, ""},
		{bare(), "KG", "\x02   310,5", Stable, "310.5"},
		{bare(), "KG", "\x02 - 310,5", UnderLoad, "-310.5"},
		{bare(), "KG", "\x02   310.5", Unreadable, ""},
		{bare(), "KG", "\x02 1,310,5", Unreadable, ""},
		{bare(), "LB", "\x02   310,5", WrongUnit, ""},
		{trailing, "LB", "+00684.5 LB ", Stable, "684.5"},
		{trailing, "LB", "+00684.5 LB*", Moving, "684.5"},
		{trailing, "LB", "OVERLOAD ", OverRange, ""},
		{trailing, "LB", "+00684.5 ", WrongUnit, ""},
	} {
		r := read(t, c.form, c.house, c.line)
		require.Equal(t, c.state, r.state, "%q: %s", c.line, r.why)
		require.Equal(t, c.state == Unreadable, r.why != "", "%q", c.line)
		require.Equal(t, c.weight != "", r.weighed, "%q", c.line)
		if c.weight != "" {
			require.Equal(t, c.weight, r.weight.String(), "%q", c.line)
		}
		if ascii([]byte(c.line)) {
			require.Equal(t, c.line, r.raw, "kept as it was")
		}
	}
}

func TestForeignBytesAreShown(t *testing.T) {
	t.Parallel()
	require.Equal(t, `S G\x00\xb5\x7f`, read(t, marked(), "LB", "S G\x00\xb5\x7f").raw)
	require.Equal(t, "\x02 1\t", read(t, bare(), "KG", "\x02 1\t").raw)
}

func TestSettingsWithoutFault(t *testing.T) {
	t.Parallel()
	require.Empty(t, marked().Check())
	require.Empty(t, bare().Check())
	for _, address := range []string{
		"tcp://10.0.0.5:4001", "tcp://[::1]:4001", "tcp://scale-2.dock:4001", "serial:///dev/ttyS0",
		"serial:///dev/ttyUSB0?baud=2400&parity=even&data=7&stop=2", "serial:///dev/ttyUSB0?parity=o",
	} {
		s := marked()
		s.Address = address
		require.Empty(t, s.Check(), address)
	}
}

func TestSettingsWithFaults(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		change func(*Settings)
		path   string
		say    string
	}{
		"no address":       {func(s *Settings) { s.Address = "" }, "address", "is missing"},
		"no port":          {func(s *Settings) { s.Address = "tcp://scale" }, "address", "must be tcp://host:port"},
		"other protocol":   {func(s *Settings) { s.Address = "udp://scale:1" }, "address", "must be tcp://host:port"},
		"odd speed":        {func(s *Settings) { s.Address = "serial:///dev/ttyS0?baud=9601" }, "address", `baud "9601"`},
		"two speeds":       {func(s *Settings) { s.Address = "serial:///dev/ttyS0?baud=9600&baud=1200" }, "address", "more than once"},
		"odd parity":       {func(s *Settings) { s.Address = "serial:///dev/ttyS0?parity=x" }, "address", `parity "x"`},
		"other parameter":  {func(s *Settings) { s.Address = "serial:///dev/ttyS0?flow=on" }, "address", "has flow"},
		"no pattern":       {func(s *Settings) { s.Pattern = "" }, "pattern", "is missing"},
		"no expression":    {func(s *Settings) { s.Pattern = "(" }, "pattern", "no regular expression"},
		"no weight":        {func(s *Settings) { s.Pattern = `(?P<unit>lb)` }, "pattern", "no group (?P<weight>"},
		"other group":      {func(s *Settings) { s.Pattern = `(?P<weight>.)(?P<unit>.)(?P<tare>.)` }, "pattern", "has a group tare"},
		"weight and unit?": {func(s *Settings) { s.Unit = "LB" }, "pattern", "leave one out"},
		"no unit":          {func(s *Settings) { s.Pattern = `(?P<weight>.)` }, "pattern", "say LB or KG"},
		"what is stable":   {func(s *Settings) { s.StableTexts = nil }, "pattern", "stable_texts"},
		"what is gross":    {func(s *Settings) { s.GrossTexts = nil }, "pattern", "gross_texts"},
		"two meanings":     {func(s *Settings) { s.MotionTexts = []string{" S "} }, "stable_texts", "which motion_texts has too"},
		"two modes":        {func(s *Settings) { s.NetTexts = []string{"G"} }, "net_texts", "which gross_texts has too"},
		"unit of nothing":  {func(s *Settings) { s.UnitTexts = map[string]string{"g": "G"} }, "unit_texts.g", "must be LB or KG"},
		"long line":        {func(s *Settings) { s.LongestLine = 201 }, "longest_line", "must be 4 to 200"},
		"long end":         {func(s *Settings) { s.Terminator = "-----" }, "terminator", "has 5 bytes"},
		"other mark":       {func(s *Settings) { s.DecimalMark = ";" }, "decimal_mark", "a point or a comma"},
		"impatient":        {func(s *Settings) { s.SilentAfter = 1 }, "silent_after", "at least 100ms"},
		"hasty":            {func(s *Settings) { s.SettleFor = 1 }, "settle_for", "at least 1s"},
	} {
		s := marked()
		c.change(&s)
		faults := s.Check()
		require.NotEmpty(t, faults, name)
		require.Equal(t, c.path, faults[0].Path, name)
		require.Contains(t, faults[0].Message, c.say, name)
	}
}

func TestNoTwoScalesShareAnIndicator(t *testing.T) {
	t.Parallel()
	require.Empty(t, Book{"2": marked()}.Check())
	faults := Book{"2": marked(), "3": marked(), "a b": bare()}.Check()
	require.Len(t, faults, 3)
	require.Equal(t, "3.address", faults[0].Path)
	require.Equal(t, "a b", faults[1].Path)
	require.Equal(t, "a b.address", faults[2].Path)
	_, err := NewSet(Book{"2": {}}, "LB", nil, nil)
	require.ErrorContains(t, err, "2.address is missing")
}
