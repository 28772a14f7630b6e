package domain

import (
	"fmt"
	"regexp"
	"strings"

	"barrelhead.example/services/kit/quantity"
)

// Limits of what a schedule may say. The water limits are those a honey refractometer can show.
const (
	mostRows     = 1000
	mostCharges  = 16
	firstYear    = 2000
	lastYear     = 2100
	driestBase   = quantity.Percent(12_00)
	wettestBase  = quantity.Percent(25_00)
	longestText  = 200
	highestPrice = quantity.Price(1_000_000_000)
)

// USGradeABase is the most water US grades A and B allow (USDA AMS, US Standards for Grades of Extracted Honey, effective
// 23 May 1985), the usual base of a schedule.
const USGradeABase = quantity.Percent(18_60)

var (
	varietyForm = regexp.MustCompile(`^[a-z][a-z ]{0,39}$`)
	colorForm   = regexp.MustCompile(`^[A-Z][A-Z_]{0,39}$`)
	codeForm    = regexp.MustCompile(`^[A-Z][A-Z_]{1,39}$`)
	grades      = map[string]bool{"A": true, "B": true, "C": true, "SUBSTANDARD": true}
)

type faults []FieldFault

func (f *faults) add(path, format string, args ...any) {
	*f = append(*f, FieldFault{Path: path, Message: fmt.Sprintf(format, args...)})
}

// Validate lists everything wrong with a draft at once, by the path of each field inside the schedule.
func (s *Schedule) Validate() []FieldFault {
	var f faults
	s.validateDates(&f)
	s.validateRows(&f)
	if b := s.Moisture.Base; b < driestBase || b > wettestBase {
		f.add("moisture_rule.base_percent", "is %v; it must be from %v to %v", b, driestBase, wettestBase)
	}
	if p := s.Moisture.Step; p < 0 || p > highestPrice {
		f.add("moisture_rule.step_per_tenth", "is %v; it must be from 0.00 to %v", p, highestPrice)
	}
	s.validateCharges(&f)
	return f
}

func (s *Schedule) validateDates(f *faults) {
	if s.CropYear < firstYear || s.CropYear > lastYear {
		f.add("crop_year", "is %d; it must be from %d to %d", s.CropYear, firstYear, lastYear)
		return
	}
	from, to := Date(fmt.Sprintf("%04d-01-01", s.CropYear)), Date(fmt.Sprintf("%04d-12-31", s.CropYear+1))
	if s.Effective != "" && (s.Effective < from || s.Effective > to) {
		f.add("effective_date", "is %s; for crop year %d it must be from %s to %s", s.Effective, s.CropYear, from, to)
	}
}

// ValidateRows lists what is wrong with cells and prices, by paths that begin with "rows".
func ValidateRows(rows []PriceRow) []FieldFault {
	var f faults
	(&Schedule{Rows: rows}).validateRows(&f)
	return f
}

func (s *Schedule) validateRows(f *faults) {
	switch {
	case len(s.Rows) == 0:
		f.add("rows", "has no price; give at least one row")
	case len(s.Rows) > mostRows:
		f.add("rows", "has %d rows; at most %d fit", len(s.Rows), mostRows)
		return
	}
	seen := map[PriceRow]int{}
	for i, r := range s.Rows {
		at := fmt.Sprintf("rows[%d]", i)
		r.validate(at, f)
		cell := PriceRow{Variety: r.Variety, ColorClass: r.ColorClass, Grade: r.Grade}
		if first, twice := seen[cell]; twice {
			f.add(at, "prices %s a second time; rows[%d] does already", inWords(r.Variety, r.ColorClass, r.Grade), first)
			continue
		}
		seen[cell] = i
	}
}

func (r PriceRow) validate(at string, f *faults) {
	if r.Variety != "" && !varietyForm.MatchString(r.Variety) {
		f.add(at+".variety", "is %.40q; write it in lower case such as basswood, or leave it empty for every other source", r.Variety)
	}
	if !colorForm.MatchString(r.ColorClass) {
		f.add(at+".color_class", "is %.40q; write a class in capitals such as EXTRA_LIGHT_AMBER", r.ColorClass)
	}
	if !grades[r.Grade] {
		f.add(at+".grade", "is %.40q; it must be one of %s", r.Grade, listed(grades))
	}
	if r.Advance < 0 || r.Advance > highestPrice {
		f.add(at+".advance", "is %v; it must be from 0.00 to %v", r.Advance, highestPrice)
	}
}

func (s *Schedule) validateCharges(f *faults) {
	if len(s.Charges) > mostCharges {
		f.add("deductions", "has %d charges; at most %d fit", len(s.Charges), mostCharges)
		return
	}
	seen := map[string]int{}
	for i, c := range s.Charges {
		at := fmt.Sprintf("deductions[%d]", i)
		c.validate(at, f)
		if first, twice := seen[c.Code]; twice {
			f.add(at+".code", "is %s a second time; deductions[%d] has it already", c.Code, first)
			continue
		}
		seen[c.Code] = i
	}
}

func (c Charge) validate(at string, f *faults) {
	if !codeForm.MatchString(c.Code) {
		f.add(at+".code", "is %.40q; write it in capitals and underscores such as HAULING", c.Code)
	}
	requireText(at+".description", c.Description, "say what the member reads", f)
	requireText(at+".authority", c.Authority, "name the paper that allows the charge", f)
	switch c.Basis {
	case BasisNet, BasisPayable:
		if c.Rate <= 0 || c.Rate > highestPrice {
			f.add(at+".rate", "is %v; a charge by weight needs a rate above 0.00 and at most %v", c.Rate, highestPrice)
		}
		if c.Amount != 0 {
			f.add(at+".amount", "is %v; a charge by weight has a rate and no amount", c.Amount)
		}
	case BasisBarrel:
		if c.Amount <= 0 {
			f.add(at+".amount", "is %v; a charge by the barrel needs an amount above 0.00", c.Amount)
		}
		if c.Rate != 0 {
			f.add(at+".rate", "is %v; a charge by the barrel has an amount and no rate", c.Rate)
		}
	default:
		f.add(at+".basis", "is missing; say net weight, payable weight or barrel")
	}
}

func requireText(path, text, what string, f *faults) {
	switch n := len([]rune(text)); {
	case strings.TrimSpace(text) == "":
		f.add(path, "is missing; %s", what)
	case n > longestText:
		f.add(path, "has %d characters; at most %d fit", n, longestText)
	}
}
