package domain

import (
	"time"

	"github.com/google/uuid"
)

// ScheduleKey is where a page of schedules begins: after this crop year and version. The zero key is the first page.
type ScheduleKey struct{ CropYear, Version int }

// AgeKey is where a page of waiting barrels begins: after this delivery date and barrel. The zero key is the first page.
type AgeKey struct {
	Date   Date
	Barrel uuid.UUID
}

// Graded is a certificate as grading issued it.
type Graded struct {
	Certificate
	Sample    string
	IssueTime time.Time
	// Reason is why it was issued anew; empty for a first.
	Reason     string
	Supersedes *uuid.UUID
}
