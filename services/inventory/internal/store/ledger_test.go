package store_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/fixture"
	"barrelhead.example/services/inventory/internal/store"
	"barrelhead.example/services/kit/pgtest"
	"barrelhead.example/services/kit/quantity"
)

// The ledger of one place is cut out of the whole one by the database. Whatever is left out must not matter.
func TestALedgerCutOutForAPlaceTracesLikeTheWholeOne(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "inventory")
	r := rand.New(rand.NewPCG(3, 3))
	has, delivered := map[lots.Place]quantity.Mass{}, map[lots.Place]quantity.Mass{}
	var sources, targets []lots.Place
	for n := range 14 {
		p := lots.Of(lots.Barrel, fixture.ID("barrel", n))
		delivered[p], has[p] = 640_000, 640_000
		sources = append(sources, p)
		_, err := db.Pool().Exec(t.Context(), `INSERT INTO standing (barrel, location, moves) VALUES ($1, 'DOCK', 0)`, p.ID())
		require.NoError(t, err)
	}
	for n := range 8 {
		p := lots.Of([]lots.Kind{lots.Charge, lots.Pack}[n%2], fixture.ID("vessel", n))
		sources, targets = append(sources, p), append(targets, p)
		_, err := db.Pool().Exec(t.Context(), `INSERT INTO vessel (place, content) VALUES ($1, 0)`, p)
		require.NoError(t, err)
	}
	targets = append(targets, lots.Of(lots.Shipment, fixture.ID("shipment", 1)), lots.Of(lots.Shipment, fixture.ID("shipment", 2)), lots.At(lots.Loss, "DRAIN"))
	var all []lots.Transfer
	pour := func(n int, from, to, of lots.Place, mass quantity.Mass) {
		x := lots.Transfer{ID: fixture.ID("transfer", n), From: from, To: to, Mass: mass, Actor: "users/wh1", Time: fixture.Start, Of: of}
		require.NoError(t, store.Store{}.Pour(t.Context(), db.Pool(), &x))
		all = append(all, x)
	}
	var returns []lots.Place
	for n := range 240 {
		f := r.IntN(len(sources))
		from, to := sources[f], targets[r.IntN(len(targets))]
		// Mostly forwards, so that not everything is connected with everything.
		if from == to || has[from] == 0 || (f >= 14 && slices.Index(targets, to) < f-14 && r.IntN(30) > 0) {
			continue
		}
		mass := 1 + quantity.Mass(r.Int64N(int64(has[from])))
		has[from], has[to] = has[from]-mass, has[to]+mass
		pour(n, from, to, "", mass)
		if to.Kind() != lots.Shipment || mass < 2 {
			continue
		}
		// Half of it comes back, and half of that goes where it was, or is destroyed.
		back := lots.Of(lots.Returned, fixture.ID("return", n))
		_, err := db.Pool().Exec(t.Context(), `INSERT INTO vessel (place, content) VALUES ($1, 0)`, back)
		require.NoError(t, err)
		pour(1000+n, to, back, from, mass/2)
		returns = append(returns, back)
		switch again := mass / 4; {
		case again == 0:
		case from.Kind() == lots.Barrel:
			pour(2000+n, back, lots.At(lots.Loss, "DESTROYED"), "", again)
		default:
			pour(2000+n, back, from, "", again)
			has[from] += again
		}
	}
	require.Greater(t, len(returns), 3)
	require.Greater(t, len(all), 50)
	shorter := 0
	for _, place := range slices.Concat(sources, targets[:len(targets)-1], returns) {
		cut, err := store.Store{}.Ledger(t.Context(), db.Pool(), place, true)
		require.NoError(t, err)
		if len(cut) < len(all) {
			shorter++
		}
		want, err := lots.Follow(place, delivered, all)
		require.NoError(t, err)
		got, err := lots.Follow(place, delivered, cut)
		require.NoError(t, err)
		require.Equal(t, want, got, place)
		back, err := store.Store{}.Ledger(t.Context(), db.Pool(), place, false)
		require.NoError(t, err)
		upward, err := lots.Follow(place, delivered, back)
		require.NoError(t, err)
		require.Equal(t, want.Sources, upward.Sources, place)
		require.Equal(t, want.Content, upward.Content, place)
	}
	require.Positive(t, shorter, fmt.Sprint("some ledger must have been cut at all, of ", len(all)))
}

// What a vessel holds is kept beside the ledger, and must always be what the ledger says.
func TestVesselsHoldWhatTheLedgerSays(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "inventory")
	place := lots.Of(lots.Charge, fixture.ID("vessel", 1))
	_, err := db.Pool().Exec(t.Context(), `INSERT INTO vessel (place, content) VALUES ($1, 5)`, place)
	require.NoError(t, err)
	err = store.Store{}.Pour(t.Context(), db.Pool(), &lots.Transfer{ID: fixture.ID("transfer", 1), From: place, To: lots.At(lots.Loss, "SPILL"), Mass: 6, Time: fixture.Start})
	require.ErrorContains(t, err, "vessel_holds_enough", "the database is the last to refuse")
	var n int
	require.NoError(t, db.Pool().QueryRow(t.Context(), `SELECT count(*) FROM transfer`).Scan(&n))
	require.Zero(t, n)
}

func TestRecordsCannotBeChangedByTheService(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "inventory")
	for _, table := range []string{
		"movement", "hold", "hold_release", "transfer", "split", "charge", "charge_close", "substitution", "pack_lot", "pack_charge",
		"pack_close", "shipment", "shipment_line", "label", "tank", "customer_return", "return_decision",
	} {
		_, err := db.Pool().Exec(t.Context(), "DELETE FROM "+table)
		require.ErrorContains(t, err, "permission denied", table)
		_, err = db.Pool().Exec(t.Context(), fmt.Sprintf("UPDATE %s SET %s = %s", table, firstColumn[table], firstColumn[table]))
		require.ErrorContains(t, err, "permission denied", table)
	}
}

var firstColumn = map[string]string{
	"movement": "movement", "hold": "hold", "hold_release": "hold", "transfer": "transfer", "split": "barrel", "charge": "charge",
	"charge_close": "charge", "substitution": "charge", "pack_lot": "pack_lot", "pack_charge": "pack_lot", "pack_close": "pack_lot",
	"shipment": "shipment", "shipment_line": "shipment", "label": "label", "tank": "tank",
	"customer_return": "customer_return", "return_decision": "transfer",
}
