package lots

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/checkdigit"
	"barrelhead.example/services/kit/quantity"
)

// Pallet is jars of closed lots that move as one.
type Pallet struct {
	ID      uuid.UUID
	Number  int64
	SSCC    string
	Lines   []PalletLine
	Builder string
	Time    time.Time
	// Shipment and Customer are set once it left.
	Shipment uuid.UUID
	Customer string
	// Returned is whether the customer sent it back.
	Returned bool
	// Breaker and Why are set once it was taken apart.
	Breaker, Why string
}

// PalletLine is jars of one lot.
type PalletLine struct {
	ID   uuid.UUID
	Lot  uuid.UUID
	Jars int64
	// Code, GTIN and BestBy stand on the jars; a label may have no GTIN, a lot no best-by day.
	Code, GTIN, BestBy string
}

// Name is the resource name, "pallets/{uuid}".
func (p Pallet) Name() string { return "pallets/" + p.ID.String() }

// Called is what people call it: the code on its label, or its number where the house has none.
func (p Pallet) Called() string {
	if p.SSCC == "" {
		return strconv.FormatInt(p.Number, 10)
	}
	return p.SSCC
}

// State is where it is.
func (p Pallet) State() string {
	switch {
	case p.Breaker != "":
		return "TAKEN_APART"
	case p.Returned:
		return "RETURNED"
	case p.Shipment != uuid.Nil:
		return "SHIPPED"
	default:
		return "IN_HOUSE"
	}
}

// InHouse fails for a pallet that left or was taken apart; action completes "… cannot be …".
func (p Pallet) InHouse(action string) error {
	if state := p.State(); state != "IN_HOUSE" {
		return &stock.StateError{Resource: p.Name(), Called: "pallet " + p.Called(), State: state, Action: action}
	}
	return nil
}

// The extension digit of pallets. Drums take the tens of the year for it (2 in the twenties), so the two never meet before 2090.
const (
	palletExtension = "9"
	ssccBody        = 17
)

// PalletCode is the serial shipping container code of a pallet: extension digit, company prefix of 7 to 9 digits, number and check
// digit. Empty without a prefix.
func PalletCode(prefix string, number int64) (string, error) {
	if prefix == "" {
		return "", nil
	}
	serial := strconv.FormatInt(number, 10)
	room := ssccBody - len(palletExtension) - len(prefix)
	if len(serial) > room {
		return "", &stock.StateError{Resource: "company prefix " + prefix, State: "USED_UP", Action: fmt.Sprintf("used for pallet %s: it leaves %d digits", serial, room)}
	}
	body := palletExtension + prefix + strings.Repeat("0", room-len(serial)) + serial
	check, err := checkdigit.GS1(body)
	return body + check, err
}

// Stack decides whether so many jars may go on a pallet; loose are those that stand on none.
func (r Run) Stack(jars, loose int64) error {
	if !r.Closed {
		return &FillingError{Place: r.Place(), Called: r.Called()}
	}
	if err := r.Free("stacked on a pallet"); err != nil {
		return err
	}
	if jars > loose {
		return &LooseError{Run: r, Loose: loose, Asked: jars}
	}
	return nil
}

// LooseError means that the jars stand on pallets.
type LooseError struct {
	Run          Run
	Loose, Asked int64
}

// Error gives the numbers.
func (e *LooseError) Error() string {
	return fmt.Sprintf("%s has %s on no pallet, of %s on hand: %s cannot be taken; ship the pallet, or take it apart",
		e.Run.Called(), quantity.Count(e.Loose, "jar"), quantity.Whole(e.Run.OnHand), quantity.Whole(e.Asked))
}

// Reason is the wire reason.
func (e *LooseError) Reason() string { return "TOTAL_DISAGREES" }

// Metadata repeats the difference.
func (e *LooseError) Metadata() map[string]string {
	return map[string]string{"resource": string(e.Run.Place()), "difference": fmt.Sprint(e.Asked - e.Loose)}
}
