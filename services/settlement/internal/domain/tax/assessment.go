package tax

import (
	"fmt"
	"strconv"
	"time"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// Assessment is the national honey assessment on what was first handled in a month, in pounds and US dollars.
type Assessment struct {
	Rate        quantity.Price
	RateSource  string
	Amount      quantity.Money
	Due         domain.Date
	ExemptBelow quantity.Mass
	MayBeExempt bool
}

// Assess calculates the assessment of a month, "2026-10", on the weight handled in it; inYear is the weight of the calendar
// year so far. Errors: a month that cannot be read, *domain.StateError where no rate is known, quantity.ErrRange.
func Assess(month string, handled, inYear quantity.Mass) (a Assessment, err error) {
	start, err := time.Parse("2006-01", month)
	if err != nil {
		return a, fmt.Errorf("read the month: %w", err)
	}
	day := domain.Date(start.AddDate(0, 1, -1).Format(time.DateOnly))
	rate, err := On(AssessmentRate, day)
	if err != nil {
		return a, err
	}
	exemption, err := On(AssessmentExemption, day)
	if err != nil {
		return a, err
	}
	due, err := On(AssessmentDueDay, day)
	if err != nil {
		return a, err
	}
	if a.Rate, err = quantity.ParsePrice(rate.Value); err != nil {
		return a, fmt.Errorf("read the rate: %w", err)
	}
	if a.ExemptBelow, err = quantity.ParseMass(exemption.Value); err != nil {
		return a, fmt.Errorf("read the exemption: %w", err)
	}
	days, err := strconv.Atoi(due.Value)
	if err != nil {
		return a, fmt.Errorf("read the day it is due: %w", err)
	}
	a.RateSource = rate.String()
	a.Due = domain.Date(start.AddDate(0, 1, days-1).Format(time.DateOnly))
	a.MayBeExempt = inYear < a.ExemptBelow
	if a.Amount, err = a.Rate.Times(handled); err != nil {
		return a, fmt.Errorf("assess %v: %w", handled, err)
	}
	return a, nil
}
