package lots_test

import (
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/quantity"
)

// However a shipment comes back and whatever is decided about it, in whatever parts: no jar and no thousandth more than it carried, and
// none is left over.
func TestWhatComesBackAddsUpToWhatWasCarried(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		jars := rapid.Int64Range(1, 3000).Draw(t, "jars")
		c := lots.Carried{Jars: jars, Mass: quantity.Mass(rapid.Int64Range(jars*400, jars*1100).Draw(t, "mass"))}
		var decided quantity.Mass
		for c.Back < c.Jars {
			jars, mass, err := c.Accept(rapid.Int64Range(0, c.Jars-c.Back).Draw(t, "back"), 0)
			if err != nil {
				t.Fatal(err)
			}
			c.Back, c.BackMass = c.Back+jars, c.BackMass+mass
			r := lots.Return{Jars: jars, Mass: mass, Receiver: "users/wh1"}
			for left := jars; left > 0; left, _ = r.Waiting() {
				d, err := r.Decide(lots.Decision{Jars: rapid.Int64Range(0, left).Draw(t, "decided"), Decider: "users/office1"}, quantity.LB)
				if err != nil {
					t.Fatal(err)
				}
				r.Decisions = append(r.Decisions, d)
				decided += d.Mass
			}
			if left, mass := r.Waiting(); left != 0 || mass != 0 {
				t.Fatalf("%d jars and %s wait", left, mass)
			}
		}
		if c.BackMass != c.Mass || decided != c.Mass {
			t.Fatalf("%s of %s came back, %s was decided about", c.BackMass, c.Mass, decided)
		}
		if _, _, err := c.Accept(1, 0); err == nil {
			t.Fatal("one more came back")
		}
	})
}

func TestNoMoreComesBackThanIsStillOut(t *testing.T) {
	t.Parallel()
	c := lots.Carried{Of: "packLots/p", Called: "lot FC26329T103Q", Customer: "North Mill Bakery", Jars: 2_100, Back: 60, Mass: 2_100_000, BackMass: 60_000}
	_, _, err := c.Accept(2_041, 0)
	require.EqualError(t, err,
		"North Mill Bakery still has 2,040 jars of lot FC26329T103Q (2,100 jars left with this shipment, 60 jars came back already): 2,041 jars cannot come back")
	var over *lots.CarriedError
	require.ErrorAs(t, err, &over)
	require.Equal(t, map[string]string{"resource": string(lots.Of(lots.Shipment, c.Shipment)), "difference": "1", "out": "2040 jars"}, over.Metadata())
	whole := c
	whole.Pallet = "906141410000000018"
	_, _, err = whole.Accept(2_041, 0)
	require.ErrorContains(t, err, ": 2,041 jars on pallet 906141410000000018 cannot come back")
	_, mass, err := c.Accept(2_040, 0)
	require.NoError(t, err)
	require.Equal(t, quantity.Mass(2_040_000), mass)
	bulk := lots.Carried{Of: "stock/a", Called: "drum FC-00003", Customer: "North Mill Bakery", Mass: 640_000, Unit: quantity.KG}
	_, mass, err = bulk.Accept(0, 0)
	require.NoError(t, err)
	require.Equal(t, quantity.Mass(640_000), mass, "the whole drum")
	_, mass, err = bulk.Accept(0, 40_000)
	require.NoError(t, err)
	require.Equal(t, quantity.Mass(40_000), mass)
	_, _, err = bulk.Accept(0, 640_001)
	require.ErrorContains(t, err, "North Mill Bakery still has 640.0 kg of drum FC-00003 (640.0 kg left with this shipment, 0.0 kg came back already): 640.001 kg cannot come back")
	bulk.BackMass = 640_000
	_, _, err = bulk.Accept(0, 0)
	require.ErrorContains(t, err, "more cannot come back")
	_, _, err = lots.Carried{Of: "packLots/q", Called: "lot Q", Customer: "Creekside Grocers"}.Accept(1, 0)
	require.ErrorContains(t, err, "nothing of lot Q left for Creekside Grocers with this shipment")
	for place, called := range map[lots.Place]string{"stock/1": "drum A", "charges/1": "charge A", "packLots/1": "lot A", "returns/1": "returns/1"} {
		require.Equal(t, called, lots.Called(place, "A"))
	}
	require.Equal(t, "stock/1", lots.Called("stock/1", ""))
}

func TestAnotherPersonDecidesAboutWhatWaits(t *testing.T) {
	t.Parallel()
	r := lots.Return{ID: uuid.New(), Of: "packLots/p", Code: "FC26329T103Q", Customer: "North Mill Bakery", Jars: 10, Mass: 10_000, Receiver: "users/wh1"}
	_, err := r.Decide(lots.Decision{Decider: "users/wh1"}, quantity.LB)
	require.ErrorContains(t, err, "users/wh1 received it: another person must decide")
	_, err = r.Decide(lots.Decision{Decider: "users/wh2", Jars: 11}, quantity.LB)
	require.ErrorContains(t, err, "of the jars of lot FC26329T103Q that North Mill Bakery sent back, 10 jars wait for a decision: nobody can decide about 11 jars")
	_, err = r.Decide(lots.Decision{Decider: "users/wh2", Mass: 1}, quantity.LB)
	require.EqualError(t, err, "what North Mill Bakery sent back of lot FC26329T103Q came back in jars and cannot be decided about by weight: say how many jars")
	r.Decisions = []lots.Decision{{Jars: 10, Mass: 10_000}}
	_, err = r.Decide(lots.Decision{Decider: "users/wh2"}, quantity.LB)
	require.ErrorContains(t, err, "what North Mill Bakery sent back of lot FC26329T103Q is decided and cannot be decided about again")
	bulk := lots.Return{Of: "stock/a", Mass: 640_000, Receiver: "users/wh1"}
	_, err = bulk.Decide(lots.Decision{Decider: "users/wh2", Jars: 1}, quantity.LB)
	require.ErrorContains(t, err, "say how much it weighs")
	_, err = bulk.Decide(lots.Decision{Decider: "users/wh2", Mass: 640_001}, quantity.LB)
	require.ErrorContains(t, err, "640.0 lb waits for a decision: nobody can decide about 640.001 lb")
	d, err := bulk.Decide(lots.Decision{Decider: "users/wh2"}, quantity.LB)
	require.NoError(t, err)
	require.Equal(t, quantity.Mass(640_000), d.Mass)
}

func TestJarsGoBackIntoTheirLotAndBulkIntoATank(t *testing.T) {
	t.Parallel()
	tank := uuid.New()
	jars, bulk := lots.Return{Of: "packLots/p"}, lots.Return{Of: "stock/a"}
	to, err := jars.RestocksTo(uuid.Nil)
	require.NoError(t, err)
	require.Equal(t, lots.Place("packLots/p"), to)
	_, err = jars.RestocksTo(tank)
	require.ErrorContains(t, err, "jars go back into their lot")
	to, err = bulk.RestocksTo(tank)
	require.NoError(t, err)
	require.Equal(t, lots.Of(lots.Charge, tank), to)
	_, err = bulk.RestocksTo(uuid.Nil)
	require.ErrorContains(t, err, "name the charge of the tank")
	holds := []stock.Hold{{Code: stock.Scale}, {Code: stock.Recall}}
	require.Equal(t, stock.Recall, lots.Barring(holds, lots.Pack).Code, "a doubt about a scale does not reach jars")
	require.Nil(t, lots.Barring(holds[:1], lots.Pack))
}

func TestAPalletComesBackOnceFromItsOwnShipment(t *testing.T) {
	t.Parallel()
	p := lots.Pallet{ID: uuid.New(), SSCC: "906141410000000018", Shipment: uuid.New(), Customer: "North Mill Bakery"}
	require.NoError(t, p.Back(p.Shipment))
	require.EqualError(t, p.Back(uuid.New()), "pallet 906141410000000018 left for North Mill Bakery with another shipment")
	p.Returned = true
	require.EqualError(t, p.Back(p.Shipment), "pallet 906141410000000018 came back already")
	p.Breaker = "users/line1"
	require.ErrorContains(t, p.Back(p.Shipment), "was taken apart: name the lots")
	at := lots.Pallet{ID: uuid.New(), Number: 7}
	require.EqualError(t, at.Back(uuid.Nil), "pallet 7 has not left the house")
	var refused *lots.PalletBackError
	require.ErrorAs(t, at.Back(uuid.Nil), &refused)
	require.Equal(t, map[string]string{"resource": at.Name(), "state": "IN_HOUSE"}, refused.Metadata())
}
