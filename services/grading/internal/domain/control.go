package domain

import (
	"fmt"
	"regexp"
	"time"

	"github.com/google/uuid"
)

// Control is a reference material whose value is known, run among the samples to show that the bench still measures right.
type Control struct {
	// ID such as "CH-2026-1".
	ID     string
	Factor Factor
	// Material in words, e.g. "control honey, clover".
	Material string
	// Target and Sigma are the known value and its standard deviation on this bench.
	Target, Sigma Value
	// Basis says where they come from: at least twenty runs, or a certificate.
	Basis   string
	Creator string
	Time    time.Time
	// Retired is nil while it is in use.
	Retired *Retirement
}

// Retirement takes a control out of use. Its chart stays.
type Retirement struct {
	By, Reason string
	Time       time.Time
}

// Retire takes a control out of use. closing is the failed run that keeps the bench closed, nil while it is open. Errors:
// *StateError.
func (c *Control) Retire(r *Retirement, closing *ControlRun) error {
	if err := c.mustBeInUse(); err != nil {
		return err
	}
	if closing != nil && closing.Control == c.ID {
		return &StateError{c.Name(), string(Fail), fmt.Sprintf(
			"control %s keeps the bench closed for %s: pass a run of it or of another control before retiring it", c.ID, c.Factor.Words())}
	}
	c.Retired = r
	return nil
}

func (c *Control) mustBeInUse() error {
	if c.Retired == nil {
		return nil
	}
	return &StateError{c.Name(), "RETIRED", fmt.Sprintf("%s retired control %s: %s. Run another control of %s",
		c.Retired.By, c.ID, c.Retired.Reason, c.Factor.Words())}
}

// Name is the resource name.
func (c *Control) Name() string { return ControlName(c.ID) }

// ControlName is the resource name of an id.
func ControlName(id string) string { return "controls/" + id }

var controlID = regexp.MustCompile(`^[A-Z0-9][A-Z0-9-]{1,19}$`)

// fewestRuns before a house material's own mean and spread are worth anything (common practice, no source).
const fewestRuns = 20

// NewControl checks a material. runs is how many measurements the target and spread come from; certificate names the paper
// of a bought material. One of the two is needed. Errors: *FieldError, *OutOfRangeError, all at once.
func NewControl(c Control, target, sigma, certificate string, runs int) (Control, error) {
	var faults []error
	fault := func(err error) {
		if err != nil {
			faults = append(faults, err)
		}
	}
	if !controlID.MatchString(c.ID) {
		fault(&FieldError{"control_id", "control_id must be 2 to 20 capital letters, digits and hyphens, e.g. CH-2026-1"})
	}
	if !c.Factor.Measured() {
		fault(&FieldError{"factor", "factor must be one that is measured, e.g. FACTOR_MOISTURE"})
		return c, joined(faults)
	}
	var err error
	c.Target, err = parseValueField("target", target)
	fault(err)
	fault(c.Factor.check("target", c.Target))
	c.Sigma, err = parseValueField("sigma", sigma)
	fault(err)
	if err == nil && c.Sigma <= 0 {
		fault(&FieldError{"sigma", "sigma must be more than 0"})
	}
	switch {
	case certificate != "":
		c.Basis = "certificate " + certificate
	case runs >= fewestRuns:
		c.Basis = fmt.Sprintf("%d runs on this bench", runs)
	default:
		fault(&FieldError{"runs", fmt.Sprintf(
			"%d runs are too few to know a control by: run it at least %d times, or name the certificate of the material", runs, fewestRuns)})
	}
	return c, joined(faults)
}

func parseValueField(field, s string) (Value, error) {
	v, err := parseField(field, s, func(s string) (int64, error) {
		v, err := ParseValue(s)
		return int64(v), err
	})
	return Value(v), err
}

// Verdict is what a control run says of the bench.
type Verdict string

// Verdicts.
const (
	Pass    Verdict = "PASS"
	Warning Verdict = "WARNING"
	Fail    Verdict = "FAIL"
)

// ControlRun is one measurement of a control. It is never edited.
type ControlRun struct {
	ID          uuid.UUID
	Control     string
	Kind        Kind
	RawValue    string
	Temperature string
	// Value is the result before rounding: a chart of rounded values would hide drift.
	Value       Value
	Verdict     Verdict
	Instrument  string
	Analyst     string
	Time        time.Time
	Explanation string
}

// Name is the resource name.
func (r *ControlRun) Name() string { return ControlRunName(r.ID) }

const runPrefix = "controlRuns/"

// ControlRunName is the resource name of an id.
func ControlRunName(id uuid.UUID) string { return runPrefix + id.String() }

// ControlRunID reads the id out of a resource name. A name that cannot be one answers like one that does not exist.
func ControlRunID(name string) (uuid.UUID, error) { return parseID(runPrefix, name) }

// Run measures and judges a control by its chart. before are its earlier runs, newest first. Errors: those of Measure, and
// *FieldError for a method of another factor, *StateError for a retired control.
func (c *Control) Run(in ControlRun, before []ControlRun) (ControlRun, error) {
	if err := c.mustBeInUse(); err != nil {
		return in, err
	}
	if in.Kind.Factor() != c.Factor {
		return in, &FieldError{"kind", fmt.Sprintf("%s is a control of %s, which this method does not measure", c.ID, c.Factor.Words())}
	}
	m, err := Measure(in.Kind, in.RawValue, in.Temperature)
	if err != nil {
		return in, err
	}
	in.Value = m.Computed
	verdict, why := c.judge(in.Value, before)
	in.Verdict = verdict
	in.Explanation = fmt.Sprintf("Control %s reads %s against %s ± %s: %s.", c.ID, c.Factor.FormatUnit(in.Value),
		c.Factor.Format(c.Target), c.Factor.FormatUnit(2*c.Sigma), why)
	return in, nil
}

// Run rules of a Shewhart chart (common practice, no source): beyond three standard deviations at once, or beyond two
// twice running on one side, or seven running on one side.
const (
	actionSigmas  = 3
	warningSigmas = 2
	warningsInRow = 2
	sideInRow     = 7
)

func (c *Control) judge(v Value, before []ControlRun) (Verdict, string) {
	off := v - c.Target
	switch {
	case beyond(off, actionSigmas*c.Sigma):
		return Fail, fmt.Sprintf("more than %d standard deviations off", actionSigmas)
	case beyond(off, warningSigmas*c.Sigma) && c.inRow(off, before, warningSigmas*c.Sigma) >= warningsInRow:
		return Fail, fmt.Sprintf("%d runs in a row more than %d standard deviations off on one side", warningsInRow, warningSigmas)
	case c.inRow(off, before, 0) >= sideInRow:
		return Fail, fmt.Sprintf("%d runs in a row on one side of the target", sideInRow)
	case beyond(off, warningSigmas*c.Sigma):
		return Warning, fmt.Sprintf("more than %d standard deviations off, run it again", warningSigmas)
	default:
		return Pass, "in control"
	}
}

func beyond(off, limit Value) bool { return off > limit || off < -limit }

// inRow counts this run and those before it that lie beyond limit on the same side. A failure ends the row: what follows
// it is a bench that was set right.
func (c *Control) inRow(off Value, before []ControlRun, limit Value) int {
	if !beyond(off, limit) {
		return 0
	}
	n := 1
	for i := range before {
		earlier := before[i].Value - c.Target
		if before[i].Verdict == Fail || !beyond(earlier, limit) || (earlier > 0) != (off > 0) {
			break
		}
		n++
	}
	return n
}

// BenchClosedError means that the last control of a factor failed. Reason STATE_FORBIDS.
type BenchClosedError struct {
	Factor Factor
	Run    ControlRun
}

// Error is the message for people.
func (e *BenchClosedError) Error() string {
	return fmt.Sprintf("the bench is closed for %s since control %s failed: run a control again and pass before going on. %s",
		e.Factor.Words(), e.Run.Control, e.Run.Explanation)
}

// Reason is the wire reason.
func (e *BenchClosedError) Reason() string { return "STATE_FORBIDS" }

// Metadata names the control and its failed run.
func (e *BenchClosedError) Metadata() map[string]string {
	return map[string]string{
		"resource": ControlName(e.Run.Control), "state": "FAILED", "factor": e.Factor.String(), "control_run": e.Run.Name(),
	}
}

// MayConfirm decides whether doubted results may be declared good. involved says that who ran the control or measured one
// of the results. Errors: *StateError, *SamePersonError.
func MayConfirm(run *ControlRun, doubted int, involved bool, who string) error {
	if doubted == 0 {
		return &StateError{run.Name(), string(run.Verdict), fmt.Sprintf(
			"no result is in doubt by this run of control %s: there is nothing to confirm", run.Control)}
	}
	if involved {
		return &SamePersonError{First: who, Message: fmt.Sprintf(
			"%s ran the control or measured one of the %d results and may not confirm them: ask another person", who, doubted)}
	}
	return nil
}
