// Package line is what a packing line must show before a lot is started on it, and while the lot runs.
package line

import (
	"fmt"
	"time"

	"github.com/google/uuid"
)

// Clearance says that nothing of the lot before is left on a line.
type Clearance struct {
	ID       uuid.UUID
	Number   int64
	Line     string
	After    string // code of the lot before; empty for none
	Cleaning string
	Clearer  string
	Time     time.Time
}

// Name is the resource name, "lineClearances/{uuid}".
func (c Clearance) Name() string { return "lineClearances/" + c.ID.String() }

// Before is what a line did last: the lot that was started on it, if any, and whether it was cleared since.
type Before struct {
	LotCode string
	Cleared bool
}

// Ready fails with an *UnclearedError while a line that ran was not cleared since.
func Ready(name string, b Before) error {
	if b.LotCode == "" || b.Cleared {
		return nil
	}
	return &UnclearedError{Line: name, LotCode: b.LotCode}
}

// UnclearedError means that something of the lot before may be left on a line.
type UnclearedError struct{ Line, LotCode string }

// Error says what to do.
func (e *UnclearedError) Error() string {
	return fmt.Sprintf("line %s was not cleared since lot %s ran on it: take its labels, jars and lids off the line and record the line clearance first", e.Line, e.LotCode)
}

// Reason is the wire reason.
func (e *UnclearedError) Reason() string { return "STATE_FORBIDS" }

// Metadata names the line.
func (e *UnclearedError) Metadata() map[string]string {
	return map[string]string{"resource": "lines/" + e.Line, "state": "NOT_CLEARED"}
}
