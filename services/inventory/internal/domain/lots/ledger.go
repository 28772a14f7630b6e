// Package lots follows honey from barrels through tanks and jars to customers. Honey is never created or destroyed: it
// goes from one place to another, a loss being a place too, and whatever leaves a place is taken to be mixed through, so
// that it carries the barrels in it in the proportions of that moment, exact to the thousandth.
package lots

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// Kind of a place, as in its resource name.
type Kind string

// The kinds of places. Honey never leaves a shipment or a loss.
const (
	Barrel   Kind = "stock"
	Charge   Kind = "charges"
	Pack     Kind = "packLots"
	Shipment Kind = "shipments"
	Loss     Kind = "losses"
)

// Place is where honey can be, by its resource name, e.g. "charges/…".
type Place string

// At is the place of a kind with an id.
func At(kind Kind, id string) Place { return Place(string(kind) + "/" + id) }

// Of is the place of a kind with a uuid.
func Of(kind Kind, id uuid.UUID) Place { return At(kind, id.String()) }

// Kind of the place.
func (p Place) Kind() Kind {
	kind, _, _ := strings.Cut(string(p), "/")
	return Kind(kind)
}

// ID of the place within its kind.
func (p Place) ID() string {
	_, id, _ := strings.Cut(string(p), "/")
	return id
}

// Transfer is honey that went from one place to another. Number orders them as they happened.
type Transfer struct {
	ID       uuid.UUID
	Number   int64
	From, To Place
	Mass     quantity.Mass
	Actor    string
	Time     time.Time
	Reason   string
}

// OverdrawnError means that more was to be taken than there is.
type OverdrawnError struct {
	Place      Place
	Has, Asked quantity.Mass
}

// Error gives the difference that needs an explanation.
func (e *OverdrawnError) Error() string {
	return fmt.Sprintf("%s holds %s by the books and %s cannot be taken from it: %s more is unexplained", e.Place, e.Has, e.Asked, e.Asked-e.Has)
}

// Reason is the wire reason.
func (e *OverdrawnError) Reason() string { return "TOTAL_DISAGREES" }

// Metadata repeats the numbers.
func (e *OverdrawnError) Metadata() map[string]string {
	return map[string]string{"resource": string(e.Place), "difference": (e.Asked - e.Has).String()}
}

// origin is whose honey it is: the barrel it was delivered in, and whether it has been in the place asked about.
type origin struct {
	barrel Place
	marked bool
}

// mixture is how much there is of each origin. An origin with nothing left but traces below a thousandth stays in it:
// it counts for a recall until the place is emptied.
type mixture map[origin]quantity.Mass

func (m mixture) total() quantity.Mass {
	var sum quantity.Mass
	for _, v := range m {
		sum += v
	}
	return sum
}

// ordered makes the sharing of odd thousandths the same in every replay.
func (m mixture) ordered() []origin {
	return slices.SortedFunc(maps.Keys(m), func(a, b origin) int {
		if a.barrel != b.barrel {
			return strings.Compare(string(a.barrel), string(b.barrel))
		}
		return strings.Compare(fmt.Sprint(a.marked), fmt.Sprint(b.marked))
	})
}

// take removes mass in proportion. Taking all of it takes the traces with it.
func (m mixture) take(mass quantity.Mass) (mixture, error) {
	keys := m.ordered()
	weights := make([]int64, len(keys))
	for i, k := range keys {
		weights[i] = int64(m[k])
	}
	shares, err := quantity.Share(mass, weights)
	if err != nil {
		return nil, fmt.Errorf("share %s: %w", mass, err)
	}
	out := mixture{}
	for i, k := range keys {
		out[k] = shares[i]
		m[k] -= shares[i]
	}
	if m.total() == 0 {
		clear(m)
	}
	return out, nil
}

func (m mixture) add(o mixture) {
	for k, v := range o {
		m[k] += v
	}
}
