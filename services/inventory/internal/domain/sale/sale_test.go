package sale_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/inventory/internal/domain/sale"
	"barrelhead.example/services/kit/quantity"
)

func TestAnAmountIsSharedToTheCentByWhatWasInTheShipment(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var content []sale.Part
		var mass quantity.Mass
		for range rapid.IntRange(1, 12).Draw(t, "barrels") {
			p := sale.Part{
				Variety: rapid.SampledFrom([]string{"clover", "buckwheat"}).Draw(t, "variety"), CropYear: rapid.Int32Range(2025, 2026).Draw(t, "year"),
				Mass: quantity.Mass(rapid.Int64Range(1, 700_000).Draw(t, "mass")),
			}
			content, mass = append(content, p), mass+p.Mass
		}
		made, err := sale.Sale{Amount: quantity.Money(rapid.Int64Range(-1_000_000, 1_000_000).Draw(t, "cents"))}.Share(content)
		require.NoError(t, err)
		require.LessOrEqual(t, len(made.Parts), 4)
		var amount quantity.Money
		for i, p := range made.Parts {
			amount, mass = amount+p.Amount, mass-p.Mass
			require.False(t, i > 0 && made.Parts[i-1].CropYear > p.CropYear)
		}
		require.Equal(t, made.Amount, amount)
		require.Zero(t, mass)
	})
	_, err := sale.Sale{Amount: 1}.Share(nil)
	require.ErrorIs(t, err, quantity.ErrNoWeights)
}

func TestNoMoreLeavesForAnOrderThanIsLeftOfIt(t *testing.T) {
	t.Parallel()
	o := sale.Order{Customer: "NORTH-MILL", Reference: "PO-17", Lines: []sale.Line{{Label: "CLOVER", Jars: 100, Shipped: 60}}, Bulk: 640_000}
	ship := func(jars map[string]int64, bulk quantity.Mass) error { return o.Ship(jars, bulk, quantity.LB) }
	require.Equal(t, sale.Open, o.State())
	require.NoError(t, ship(map[string]int64{"CLOVER": 40}, 640_000))
	require.ErrorContains(t, ship(map[string]int64{"CLOVER": 1_240}, 0), "order PO-17 of NORTH-MILL has 40 jars of label CLOVER left to ship, 1,200 more cannot leave for it")
	require.ErrorContains(t, ship(map[string]int64{"HONEY": 1}, 0), "0 jars of label HONEY left to ship, 1 more")
	require.ErrorContains(t, ship(nil, 1_640_001), "640.0 lb of honey as it is left to ship, 1,000.001 lb more")
	o.Lines[0].Shipped, o.ShippedBulk = 100, 640_000
	require.ErrorContains(t, ship(nil, 0), "order PO-17 of NORTH-MILL is filled and cannot be shipped")
	o.Canceller, o.Reference = "users/office1", ""
	require.ErrorContains(t, o.Must("shipped"), "the order of NORTH-MILL is cancelled and cannot be shipped")
}

func TestACarrierIsReachedAsItSaysOrAsBefore(t *testing.T) {
	t.Parallel()
	known := sale.Carrier{Name: "Valley Freight", Address: "12 Depot Road", Telephone: "555 0160"}
	for name, c := range map[string]struct {
		said, last, want sale.Carrier
		field            string
	}{
		"said":           {said: known, want: known},
		"said anew":      {said: sale.Carrier{Name: "Valley Freight", Address: "a", Telephone: "t"}, last: known, want: sale.Carrier{Name: "Valley Freight", Address: "a", Telephone: "t"}},
		"as before":      {said: sale.Carrier{Name: "Valley Freight"}, last: known, want: known},
		"never said":     {said: sale.Carrier{Name: "Valley Freight"}, field: "carrier_address"},
		"half is no one": {said: sale.Carrier{Name: "Valley Freight", Address: "a"}, last: known, field: "carrier_telephone"},
		"nor is this":    {said: sale.Carrier{Name: "Valley Freight", Telephone: "t"}, last: known, field: "carrier_address"},
	} {
		got, err := c.said.Reached(c.last)
		if c.field == "" {
			require.NoError(t, err, name)
			require.Equal(t, c.want, got, name)
			continue
		}
		var unreached *sale.CarrierError
		require.ErrorAs(t, err, &unreached, name)
		require.Equal(t, map[string]string{"field": c.field}, unreached.Metadata(), name)
	}
}
