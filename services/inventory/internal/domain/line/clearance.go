// Package line is what a packing line must show before a lot is started on it, and while the lot runs.
package line

import (
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/inventory/internal/domain/stock"
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

// Ready fails while a line that ran was not cleared since.
func Ready(name string, b Before) error {
	if b.LotCode == "" || b.Cleared {
		return nil
	}
	return &stock.StateError{
		Resource: "line " + name, State: "NOT_CLEARED",
		Action: "started: lot " + b.LotCode + " ran on it last; take its labels, jars and lids off the line and record the line clearance first",
	}
}
