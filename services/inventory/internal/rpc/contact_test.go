package rpc_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/fixture"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/rpctest"
)

// Whoever recalls must know whom to call: what leaves for nobody on record says so itself.
func TestAShipmentToNobodyOnRecordSaysWhomToCall(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	know := func(id, title, contact string) {
		_, err := f.sales("office1", office).RecordCustomer(t.Context(), &inventoryv1.RecordCustomerRequest{
			RequestId: request(), Name: "customers/" + id, Title: title, Address: "4 Mill Lane", RecallContact: contact,
		})
		require.NoError(t, err)
	}
	ship := func(customer, contact string) (*inventoryv1.Shipment, error) {
		return f.line.Ship(t.Context(), &inventoryv1.ShipRequest{
			RequestId: request(), Customer: customer, RecallContact: contact, Carrier: "Valley Freight", CarrierAddress: "12 Depot Road, Lower Valley", CarrierTelephone: "555 0160", BulkLines: []*inventoryv1.BulkLine{{Place: item(1), Mass: lb("10.0"), Containers: "pail 3"}},
		})
	}
	_, err := ship("North Mill Bakery", "")
	rpctest.Faults(t, err, "recall_contact")
	require.ErrorContains(t, err, "is missing: North Mill Bakery is not on record")
	_, err = ship("North Mill Bakery", "55")
	rpctest.Faults(t, err, "recall_contact")
	_, err = ship("North Mill Bakery", strings.Repeat("5", 301))
	rpctest.Faults(t, err, "recall_contact")
	_, err = ship("customers/NORTH-MILL", "")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "customers/NORTH-MILL"})
	typed, err := ship("North Mill Bakery", "buyer@northmill.example")
	require.NoError(t, err)
	require.Equal(t, "buyer@northmill.example", typed.GetRecallContact())
	require.Empty(t, typed.GetCustomerOnRecord())

	know("NORTH-MILL", "North Mill Bakery", "desk, 555 0100")
	for _, name := range []string{"North Mill Bakery", "customers/NORTH-MILL"} {
		_, err = ship(name, "555 0000")
		rpctest.Faults(t, err, "recall_contact")
		require.ErrorContains(t, err, "customers/NORTH-MILL is on record with whom to call")
		s, err := ship(name, "")
		require.NoError(t, err, "the house knows whom to call")
		require.Equal(t, []string{"North Mill Bakery", "customers/NORTH-MILL", ""}, []string{s.GetCustomer(), s.GetCustomerOnRecord(), s.GetRecallContact()})
	}
	know("NORTH-MILL-2", "North Mill Bakery", "shop, 555 0177")
	_, err = ship("North Mill Bakery", "")
	rpctest.Faults(t, err, "recall_contact") // two are called so: which one nobody can tell
	_, err = ship("customers/NORTH-MILL-2", "")
	require.NoError(t, err)
	know("NORTH-MILL", "North Mill Bakery", "desk, 555 0199 day and night")

	// A shipment of an earlier release says nothing.
	_, err = f.db.Pool().Exec(t.Context(), `INSERT INTO shipment (shipment, customer, carrier, shipper, ship_time) VALUES ($1, 'Harvest Fair', 'Own lorry', 'users/line1', $2)`, fixture.ID("shipment", 1), f.clock.Now())
	require.NoError(t, err)
	old := "shipments/" + fixture.ID("shipment", 1).String()
	_, err = f.db.Pool().Exec(t.Context(), `INSERT INTO shipment_bulk (shipment, line, place, mass, containers) VALUES ($1, 1, $2, 10000, 'pail 4')`, fixture.ID("shipment", 1), item(1))
	require.NoError(t, err)
	_, err = f.db.Pool().Exec(t.Context(), `INSERT INTO transfer (transfer, from_place, to_place, mass, actor, transfer_time, reason) VALUES ($1, $2, $3, 10000, 'users/line1', $4, '')`, fixture.ID("transfer", 1), item(1), old, f.clock.Now())
	require.NoError(t, err)

	trace, err := f.office.Trace(t.Context(), &inventoryv1.TraceRequest{Name: item(1)})
	require.NoError(t, err)
	contacts := map[string]string{}
	for _, c := range trace.GetCustomers() {
		contacts[c.GetShipment()] = c.GetRecallContact()
		require.Equal(t, f.clock.Now().UTC().Truncate(time.Microsecond), c.GetShipTime().AsTime())
		require.Contains(t, []string{"Valley Freight", "Own lorry"}, c.GetCarrier())
		require.Len(t, c.GetReceived(), 1)
		require.Equal(t, item(1), c.GetReceived()[0].GetPlace())
		require.Contains(t, c.GetReceived()[0].GetContainers(), "pail")
	}
	require.Len(t, contacts, 5)
	require.Equal(t, "buyer@northmill.example", contacts[typed.GetName()])
	require.Contains(t, contacts, old)
	require.Empty(t, contacts[old])
	counted := map[string]int{}
	for _, c := range contacts {
		counted[c]++
	}
	require.Equal(t, map[string]int{"buyer@northmill.example": 1, "desk, 555 0199 day and night": 2, "shop, 555 0177": 1, "": 1}, counted, "as is known now")
	require.Equal(t, "FIELD_INVALID", apierr.Parse(func() error { _, err := ship("X", ""); return err }()).Reason)
}

// One answer says what people know every place by, which lots are best by when, and what each customer has of the asked honey alone.
func TestATraceSaysWhatPeopleKnowItsPlacesBy(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	c := f.charge("T1", "0")
	f.fill(c.GetName(), 1)
	require.NoError(t, f.label("CLOVER-24", 24))
	lot := f.start(c.GetName(), "CLOVER-24")
	_, err := f.draw(lot.GetName(), c.GetName(), "640.0")
	require.NoError(t, err)
	lot, err = f.line.ClosePackLot(t.Context(), &inventoryv1.ClosePackLotRequest{RequestId: request(), Name: lot.GetName(), Jars: 640, MeanNet: lb("1.0")})
	require.NoError(t, err)
	other := f.charge("T2", "0")
	f.fill(other.GetName(), 3)
	second := f.start(other.GetName(), "HONEY")
	_, err = f.draw(second.GetName(), other.GetName(), "640.0")
	require.NoError(t, err)
	second, err = f.line.ClosePackLot(t.Context(), &inventoryv1.ClosePackLotRequest{RequestId: request(), Name: second.GetName(), Jars: 640, MeanNet: lb("1.0")})
	require.NoError(t, err)
	_, err = f.line.Ship(t.Context(), &inventoryv1.ShipRequest{
		RequestId: request(), Customer: "Creekside Grocers", RecallContact: "555 0100", Carrier: "Valley Freight", CarrierAddress: "12 Depot Road, Lower Valley", CarrierTelephone: "555 0160",
		Lines: []*inventoryv1.ShipmentLine{{PackLot: lot.GetName(), Jars: 40}, {PackLot: second.GetName(), Jars: 50}, {PackLot: lot.GetName(), Jars: 2}},
	})
	require.NoError(t, err)
	trace, err := f.wh.Trace(t.Context(), &inventoryv1.TraceRequest{Name: item(1)})
	require.NoError(t, err)
	known := map[string]string{}
	for _, p := range trace.GetPlaces() {
		known[p.GetName()] = p.GetKnownAs() + " " + p.GetBestByDate()
	}
	require.Equal(t, map[string]string{item(1): "FC-00001 ", lot.GetCharges()[0]: "T1-26-001 ", lot.GetName(): lot.GetCode() + " 2028-09-15"}, known)
	received := trace.GetCustomers()[0].GetReceived()
	require.Len(t, received, 1, "the other lot in the shipment is not concerned")
	require.Equal(t, lot.GetName(), received[0].GetPlace())
	require.Equal(t, int64(42), received[0].GetJars())
}

// Who released food must know whom to ask for it on its way (21 CFR 1.345(a)(6)); what was said of a carrier once need not be said again.
func TestAShipmentSaysWhereItsCarrierIsReached(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	ship := func(carrier, address, telephone string) (*inventoryv1.Shipment, error) {
		return f.line.Ship(t.Context(), &inventoryv1.ShipRequest{
			RequestId: request(), Customer: "North Mill Bakery", RecallContact: "555 0100", Carrier: carrier, CarrierAddress: address, CarrierTelephone: telephone,
			BulkLines: []*inventoryv1.BulkLine{{Place: item(1), Mass: lb("10.0"), Containers: "pail 3"}},
		})
	}
	_, err := f.db.Pool().Exec(t.Context(), `INSERT INTO shipment (shipment, customer, carrier, shipper, ship_time) VALUES ($1, 'Harvest Fair', 'Valley Freight', 'users/line1', now())`, request())
	require.NoError(t, err)
	for field, given := range map[string][2]string{"carrier_address": {"", ""}, "carrier_telephone": {"12 Depot Road", ""}} {
		_, err = ship("Valley Freight", given[0], given[1])
		rpctest.Faults(t, err, field)
		require.ErrorContains(t, err, "give address and telephone number of Valley Freight, both")
	}
	_, err = ship("Valley Freight", "", "555 0160")
	rpctest.Faults(t, err, "carrier_address")
	_, err = ship("Valley Freight", "12", strings.Repeat("5", 61))
	rpctest.Faults(t, err, "carrier_address", "carrier_telephone")
	require.Empty(t, f.events("Shipped"))

	said, err := ship(" Valley Freight ", "12 Depot Road", "555 0160")
	require.NoError(t, err)
	require.Equal(t, []string{"Valley Freight", "12 Depot Road", "555 0160"}, []string{said.GetCarrier(), said.GetCarrierAddress(), said.GetCarrierTelephone()})
	again, err := ship("Valley Freight", "", "")
	require.NoError(t, err)
	require.Equal(t, []string{"12 Depot Road", "555 0160"}, []string{again.GetCarrierAddress(), again.GetCarrierTelephone()})
	_, err = ship("Valley Freight", "3 Station Yard", "555 0161")
	require.NoError(t, err, "it moved")
	newest, err := ship("Valley Freight", "", "")
	require.NoError(t, err)
	require.Equal(t, []string{"3 Station Yard", "555 0161"}, []string{newest.GetCarrierAddress(), newest.GetCarrierTelephone()})
	_, err = ship("Own lorry", "", "")
	rpctest.Faults(t, err, "carrier_address")

	trace, err := f.office.Trace(t.Context(), &inventoryv1.TraceRequest{Name: item(1)})
	require.NoError(t, err)
	var reached []string
	for _, to := range trace.GetCustomers() {
		reached = append(reached, to.GetCarrierTelephone()+", "+to.GetCarrierAddress())
	}
	require.ElementsMatch(t, []string{"555 0160, 12 Depot Road", "555 0160, 12 Depot Road", "555 0161, 3 Station Yard", "555 0161, 3 Station Yard"}, reached, "as each shipment says")
	list, err := f.line.ListShipments(t.Context(), &inventoryv1.ListShipmentsRequest{})
	require.NoError(t, err)
	require.Len(t, list.GetShipments(), 5)
	require.Equal(t, "3 Station Yard", list.GetShipments()[0].GetCarrierAddress())
	require.Empty(t, list.GetShipments()[4].GetCarrierAddress(), "of before")
}
