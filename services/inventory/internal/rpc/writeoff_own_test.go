package rpc_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/fixture"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/rpctest"
)

// decideAs is a person of the office who is a member too, deciding.
func (f *floor) decideAs(member string, o *inventoryv1.WriteOff, as inventoryv1.WriteOffState) error {
	who := access.Actor{Login: "users/office9", Roles: []accessv1.Role{office, accessv1.Role_ROLE_MEMBER}, Member: "members/" + member}
	_, err := inventoryv1.NewWriteOffServiceClient(f.server.As(who)).DecideWriteOff(context.Background(), &inventoryv1.DecideWriteOffRequest{
		RequestId: request(), Name: o.GetName(), Decision: as, Reason: "looked for it myself",
	})
	return err
}

// interested is the refusal of who would decide about honey of their own.
func interested(t *testing.T, err error, o *inventoryv1.WriteOff) {
	t.Helper()
	refused := rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": o.GetName(), "state": "INTERESTED"})
	require.Contains(t, refused.Message, "your own honey is in what is asked to be written off")
}

func TestNobodyDecidesAboutTheirOwnHoney(t *testing.T) {
	t.Parallel()
	f := openFloor(t) // barrel n is member n's, up to 4
	untouched := f.missing(item(3), "5.0")
	for _, as := range []inventoryv1.WriteOffState{approved, declined} {
		interested(t, f.decideAs("M-0003", untouched, as), untouched)
	}
	require.NoError(t, f.decideAs("M-0004", untouched, declined), "a member may, of others' honey")

	split, err := f.wh.SplitBarrel(t.Context(), &inventoryv1.SplitBarrelRequest{RequestId: request(), Name: item(4), Parts: []*inventoryv1.SplitPart{{DrumTag: "FC-77001", Net: lb("60.0")}}})
	require.NoError(t, err)
	pail := f.missing(split.GetStockItems()[0], "1.0")
	interested(t, f.decideAs("M-0004", pail, approved), pail)

	// What was in the tank before is in its heel, in the charge after it and in the lot.
	first := f.charge("T1", "0")
	f.fill(first.GetName(), 1)
	second := f.charge("T1", "40.0")
	f.fill(second.GetName(), 3)
	lot := f.start(second.GetName(), "CLOVER")
	_, err = f.draw(lot.GetName(), second.GetName(), "600.0")
	require.NoError(t, err)
	for _, from := range []string{second.GetName(), lot.GetName()} {
		o := f.missing(from, "2.0")
		interested(t, f.decideAs("M-0001", o, approved), o)
		interested(t, f.decideAs("M-0003", o, approved), o)
		require.NoError(t, f.decideAs("M-0002", o, approved), from)
	}
	f.balanced()
}

func TestWhoSharesABarrelHasHoneyInIt(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	d := fixture.Delivery{
		Number: 60, Member: "members/M-0061", CropYear: 2026, Date: "2026-09-14", Declared: true, Owners: []string{"members/M-0061", "members/M-0062"},
		Barrels: []fixture.Barrel{{Number: 60, Net: "640.0", Variety: "clover"}},
	}
	fixture.Apply(t, f.db, d.Events()...)
	o := f.missing(item(60), "3.0")
	interested(t, f.decideAs("M-0061", o, approved), o)
	interested(t, f.decideAs("M-0062", o, approved), o)
	require.NoError(t, f.decideAs("M-0063", o, approved))
}
