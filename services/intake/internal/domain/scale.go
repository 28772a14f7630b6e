package domain

import (
	"errors"
	"strconv"
	"time"

	"barrelhead.example/services/kit/calendar"
	"barrelhead.example/services/kit/quantity"
)

// Scale is a weighing device of the dock.
type Scale struct {
	ID          string
	Description string
	// Division is the verification scale division e.
	Division quantity.Mass
	Capacity quantity.Mass
	Class    Class
	Seal     string
	// CertificateExpireDate is a date such as "2027-02-28", or empty.
	CertificateExpireDate string
	// LastCheck is nil before the first.
	LastCheck  *Check
	Care       Care
	Creator    string
	CreateTime time.Time
}

// Name is the resource name, "scales/1".
func (s Scale) Name() string { return "scales/" + s.ID }

// Validate refuses a scale that cannot be of its class. All faults come at once.
func (s Scale) Validate(unit quantity.Unit) error {
	var faults []error
	fault := func(r *Refusal) { faults = append(faults, r) }
	if n := len([]rune(s.Description)); n < 1 || n > 120 {
		fault(invalid("scale.description", "the description has %d characters: it needs 1 to 120", n))
	}
	if s.CertificateExpireDate != "" && !isDate(s.CertificateExpireDate) {
		fault(invalid("scale.certificate_expire_date", "%q is not a date such as 2027-02-28", s.CertificateExpireDate))
	}
	if r := s.validateClass(unit); r != nil {
		fault(r)
	}
	return errors.Join(faults...)
}

func (s Scale) validateClass(unit quantity.Unit) *Refusal {
	limit, known := classLimits[s.Class]
	switch {
	case !known:
		return invalid("scale.accuracy_class", "the accuracy class is missing: it is marked on the scale")
	case s.Division <= 0:
		return invalid("scale.division", "the division is %s: it must be above zero", s.Division.Say(unit))
	case s.Capacity <= 0 || s.Capacity%s.Division != 0:
		return invalid("scale.capacity", "the capacity %s is not a multiple of the division %s",
			s.Capacity.Say(unit), s.Division.Say(unit))
	}
	if n := int64(s.Capacity / s.Division); n < limit.fewest || n > limit.most {
		return invalid("scale.capacity", "a class %s scale has %d to %d divisions, but %s in steps of %s are %d: check "+
			"capacity, division and class on the marking", s.Class, limit.fewest, limit.most, s.Capacity.Say(unit),
			s.Division.Say(unit), n)
	}
	return nil
}

// Least is the recommended minimum load: below it the division is too coarse to pay by.
func (s Scale) Least() quantity.Mass {
	return quantity.Mass(classLimits[s.Class].least) * s.Division
}

// Most is the largest weight an indicator may show, 105 % of capacity (NIST Handbook 44, section 2.20, S.1.7).
func (s Scale) Most() quantity.Mass {
	return s.Capacity + s.Capacity/20
}

// offDivision refuses a number this scale cannot have shown.
func (s Scale) offDivision(field string, m quantity.Mass, unit quantity.Unit) *Refusal {
	if m%s.Division == 0 {
		return nil
	}
	below := m - m%s.Division
	if m < 0 {
		below -= s.Division
	}
	r := outOfRange(field, below.String(), (below + s.Division).String(),
		"%s cannot stand on %s, which shows steps of %s: read the indicator again", m.Say(unit), s.label(), s.Division.Say(unit))
	r.metadata["division"] = s.Division.String()
	return r
}

// indication refuses a load the scale cannot weigh.
func (s Scale) indication(field string, m quantity.Mass, unit quantity.Unit) *Refusal {
	switch {
	case m > s.Most():
		return outOfRange(field, s.Least().String(), s.Most().String(),
			"%s is above 105 %% of the capacity of %s (%s): use a larger scale", m.Say(unit), s.label(), s.Capacity.Say(unit))
	case m < s.Least():
		return outOfRange(field, s.Least().String(), s.Most().String(),
			"%s is below the minimum load of %s (%s): use a finer scale", m.Say(unit), s.label(), s.Least().Say(unit))
	default:
		return s.offDivision(field, m, unit)
	}
}

// label is how people call it: "scale 2".
func (s Scale) label() string { return "scale " + s.ID }

// MayWeigh refuses a scale whose newest check failed: what it shows counts for nothing before it is put right.
func (s Scale) MayWeigh() error {
	if s.LastCheck == nil || s.LastCheck.Passed {
		return nil
	}
	return s.checkMissing("%s failed its check on %s: use another scale until it was put right and checked again",
		s.label(), s.LastCheck.Date)
}

// BelievedAt refuses a weighing in the past that a check before or after it puts in doubt: before is the newest check
// until then and after the first one since; either may be nil.
func (s Scale) BelievedAt(before, after *Check) error {
	then := s
	then.LastCheck = before
	if err := then.MayWeigh(); err != nil {
		return err
	}
	if after == nil || after.Passed {
		return nil
	}
	s.LastCheck = after
	return s.checkMissing("%s failed its check on %s, after this barrel was weighed: weigh it again on another scale", s.label(), after.Date)
}

// MayClose refuses a ticket weighed on a scale without a passing check on today, or whose newest check failed.
func (s Scale) MayClose(today string) error {
	if err := s.MayWeigh(); err != nil {
		return err
	}
	switch {
	case s.LastCheck == nil:
		return s.checkMissing("%s was never checked: check it with the test weights, then close the ticket", s.label())
	case s.LastCheck.Date != today:
		return s.checkMissing("%s has no passing check today (the last was on %s): check it with the test weights, then close "+
			"the ticket", s.label(), s.LastCheck.Date)
	}
	return nil
}

func (s Scale) checkMissing(format string, args ...any) *Refusal {
	r := stateForbids("", "", format, args...)
	r.reason, r.metadata = "SCALE_CHECK_MISSING", map[string]string{"scale": s.Name()}
	if s.LastCheck != nil {
		r.metadata["last_check_date"] = s.LastCheck.Date
		r.metadata["last_check_passed"] = strconv.FormatBool(s.LastCheck.Passed)
	}
	return r
}

func isDate(s string) bool {
	_, err := calendar.Day(s, time.UTC)
	return err == nil
}
