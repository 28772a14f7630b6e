package app

import (
	"cmp"
	"context"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/inventory/internal/domain/label"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/sale"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
)

// Tank is a tank with what it was filled with last.
type Tank struct {
	ID       string
	Capacity quantity.Mass
	Charge   uuid.UUID // zero before the first
	Code     string    // of the charge
	Content  quantity.Mass
}

// Shipment is what left for one customer.
type Shipment struct {
	ID                uuid.UUID
	Number            int64
	Order             uuid.UUID // zero for none
	Customer, Shipper string
	// Carrier is named alone in a command where a shipment before says the rest.
	Carrier sale.Carrier
	// Known is the id of the customer on record; empty for none, of whom Contact says whom to call.
	Known, Contact string
	Time           time.Time
	Lines          []ShipmentLine
	Bulk           []BulkLine
	Pallets        []lots.Pallet
}

// ShipmentLine is some jars of one lot.
type ShipmentLine struct {
	Lot  uuid.UUID
	Jars int64
	Mass quantity.Mass
}

// BulkLine is honey sold as it is.
type BulkLine struct {
	Place      lots.Place
	Mass       quantity.Mass // 0 in a command: all that is left
	Containers string
}

// Split is a smaller container filled from a barrel.
type Split struct {
	Barrel, Root, Parent uuid.UUID
	DrumTag              string
	Net                  quantity.Mass
	Actor                string
	Time                 time.Time
}

// Balance is all honey and where it is, in totals.
type Balance struct {
	Received, Barrels, Tanks, Lots, Shipped, Returned, Unexplained quantity.Mass
	// Asked is what of all that is on hand is asked to be written off and not decided.
	Asked  quantity.Mass
	Losses map[string]quantity.Mass
}

// Lots is where tanks, lots, shipments and the ledger are kept. What is not there is a *stock.NotFoundError.
type Lots interface {
	Heats
	NetChecks
	Packing
	Records
	SideGoods
	Claims
	Sales
	WriteOffs
	Returns

	// AddTank fails with *ExistsError, and with *lots.SameTankError where the lot codes of another tank would name it too.
	AddTank(ctx context.Context, q pg.Querier, t Tank, now time.Time) error
	Tanks(ctx context.Context, q pg.Querier) ([]Tank, error)
	Tank(ctx context.Context, q pg.Querier, tank string) (Tank, error)
	// LockTank reads a tank and keeps others from opening charges in it or starting lots from it.
	LockTank(ctx context.Context, q pg.Querier, tank string) (Tank, error)
	// AddLabel fails with *ExistsError.
	AddLabel(ctx context.Context, q pg.Querier, l label.Label) error
	// LockLabel keeps others from approving it.
	LockLabel(ctx context.Context, q pg.Querier, id string) (label.Label, error)
	AddApproval(ctx context.Context, q pg.Querier, l label.Label) error
	Label(ctx context.Context, q pg.Querier, id string) (label.Label, error)
	Labels(ctx context.Context, q pg.Querier, after string, limit int) ([]label.Label, error)

	// AddCharge also makes it the one its tank was filled with last.
	AddCharge(ctx context.Context, q pg.Querier, f lots.Filling) error
	Charge(ctx context.Context, q pg.Querier, id uuid.UUID) (lots.Filling, error)
	// CountCharges counts the charges of a tank whose code starts so.
	CountCharges(ctx context.Context, q pg.Querier, tank, prefix string) (int, error)
	// ChargeByCode finds the id of a charge.
	ChargeByCode(ctx context.Context, q pg.Querier, code string) (uuid.UUID, error)
	// Charges lists those numbered below before, newest first, without what was used.
	Charges(ctx context.Context, q pg.Querier, tank string, before int64, limit int) ([]lots.Filling, error)
	AddSubstitution(ctx context.Context, q pg.Querier, charge uuid.UUID, s lots.Substitution) error
	CloseCharge(ctx context.Context, q pg.Querier, charge uuid.UUID, closer string, now time.Time) error

	AddRun(ctx context.Context, q pg.Querier, r lots.Run) error
	// CountRuns counts the lots whose code starts so.
	CountRuns(ctx context.Context, q pg.Querier, prefix string) (int, error)
	Run(ctx context.Context, q pg.Querier, id uuid.UUID) (lots.Run, error)
	RunByCode(ctx context.Context, q pg.Querier, code string) (lots.Run, error)
	Runs(ctx context.Context, q pg.Querier, before int64, limit int) ([]lots.Run, error)
	AddRunCharge(ctx context.Context, q pg.Querier, run, charge uuid.UUID, place int, confirmer, reason string, now time.Time) error
	CloseRun(ctx context.Context, q pg.Querier, r lots.Run, closer string, now time.Time) error

	// TakeJars takes jars off a closed lot, whose place must be locked.
	TakeJars(ctx context.Context, q pg.Querier, run uuid.UUID, jars int64) error
	// AddJarLoss says of how many jars a transfer to a loss was.
	AddJarLoss(ctx context.Context, q pg.Querier, transfer, run uuid.UUID, jars int64) error
	// Carrier is what the newest shipment with a carrier of that name says of it; empty for none.
	Carrier(ctx context.Context, q pg.Querier, name string) (sale.Carrier, error)
	AddShipment(ctx context.Context, q pg.Querier, s Shipment) error
	Shipment(ctx context.Context, q pg.Querier, id uuid.UUID) (Shipment, error)
	Shipments(ctx context.Context, q pg.Querier, before int64, limit int) ([]Shipment, error)
	// ShipmentsNamed reads several.
	ShipmentsNamed(ctx context.Context, q pg.Querier, ids []uuid.UUID) ([]Shipment, error)
	// PlaceNames reads what people know places by, in the order of their names.
	PlaceNames(ctx context.Context, q pg.Querier, places []lots.Place) ([]PlaceName, error)
	AddSplit(ctx context.Context, q pg.Querier, s Split) error

	// LockPlaces keeps others from moving honey into or out of charges and lots, in one order for everybody.
	LockPlaces(ctx context.Context, q pg.Querier, places ...lots.Place) error
	// Pour records a transfer, whose number it sets, and what the two places hold after it. Both must be locked.
	Pour(ctx context.Context, q pg.Querier, t *lots.Transfer) error
	// News reads the next transfers numbered above highest, at most NewsPage, those among undecided, and the id of the transfer numbered known.
	News(ctx context.Context, q pg.Querier, highest int64, undecided []int64, known int64) (News, error)
	// Transfers reads transfers by their numbers, in their order.
	Transfers(ctx context.Context, q pg.Querier, numbers []int64) ([]lots.Transfer, error)
	// Ledger reads every transfer that matters to a place: with onward also what became of what was in it.
	Ledger(ctx context.Context, q pg.Querier, place lots.Place, onward bool) ([]lots.Transfer, error)
	Balance(ctx context.Context, q pg.Querier) (Balance, error)
}

// ExistsError means that an id is taken. Called is what people call what has it; empty where that is its name.
type ExistsError struct{ Resource, Called string }

// Error names it.
func (e *ExistsError) Error() string { return cmp.Or(e.Called, e.Resource) + " exists already" }

// Reason is the wire reason.
func (e *ExistsError) Reason() string { return "ALREADY_EXISTS" }

// Metadata names it.
func (e *ExistsError) Metadata() map[string]string { return map[string]string{"resource": e.Resource} }
