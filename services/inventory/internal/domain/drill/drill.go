// Package drill is the mock recall: a question to the books, and a stopwatch for the people.
package drill

import (
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/quantity"
)

// Drill is one mock recall.
type Drill struct {
	ID                          uuid.UUID
	Number                      int64
	Subject                     lots.Place
	Total, Accounted            quantity.Mass
	Barrels, Members, Shipments int
	// Recounted is whether the answer was counted a second time from the records.
	Recounted    bool
	Milliseconds int64
	Starter      string
	StartTime    time.Time
	Finish       *Finish
}

// Finish is what people found.
type Finish struct {
	Found          quantity.Mass
	Contacts, Note string
	Finisher       string
	Time           time.Time
}

// Name is the resource name, "recallDrills/{uuid}".
func (d Drill) Name() string { return "recallDrills/" + d.ID.String() }

// Answer notes what the books say.
func (d *Drill) Answer(t *lots.Trace, shipments, members int) {
	d.Subject, d.Total, d.Barrels, d.Shipments, d.Members = t.Place, t.Total, len(t.Sources), shipments, members
	for _, e := range t.Ends {
		d.Accounted += e.Mass
	}
}

// Recount compares the answer with one made from the records alone. It fails where they differ: a recall must not rest on either
// until somebody knows why.
func (d *Drill) Recount(answer, again *lots.Trace) error {
	if answer.Total != again.Total || !slices.Equal(answer.Sources, again.Sources) || !slices.Equal(answer.Ends, again.Ends) ||
		!slices.Equal(answer.Returned, again.Returned) {
		return fmt.Errorf("%s: the ledger in memory and the records do not agree: %s and %s in all, %d and %d barrels", answer.Place,
			answer.Total, again.Total, len(answer.Sources), len(again.Sources))
	}
	d.Recounted = true
	return nil
}

// End stops the stopwatch.
func (d Drill) End(f Finish) (Drill, error) {
	if d.Finish != nil {
		return d, &stock.StateError{Resource: d.Name(), Called: "this mock recall", State: "FINISHED", Action: "finished again"}
	}
	d.Finish = &f
	return d, nil
}

// Share is part of whole in hundredths of a percent, half up; all of nothing is found.
func Share(part, whole quantity.Mass) quantity.Percent {
	if whole == 0 {
		return 100_00
	}
	v, err := quantity.MulDiv(int64(part), 100_00, int64(whole))
	if err != nil {
		return 0
	}
	return quantity.Percent(v)
}
