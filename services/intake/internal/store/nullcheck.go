package store

import (
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/quantity"
)

// nullCheck is a check that may be missing on the right of a join.
type nullCheck struct {
	id      *uuid.UUID
	ordinal *int64
	zero    *int64
	column  *string
	passed  *bool
	finding *string
	seal    *string
	checker *string
	time    *time.Time
	date    *string
}

func (c nullCheck) check(scale string) *domain.Check {
	if c.id == nil {
		return nil
	}
	return &domain.Check{
		ID: *c.id, Scale: scale, Ordinal: *c.ordinal, Zero: quantity.Mass(*c.zero), Column: domain.Column(*c.column),
		Passed: *c.passed, Finding: *c.finding, Seal: *c.seal, Checker: *c.checker, Time: *c.time, Date: *c.date,
	}
}
