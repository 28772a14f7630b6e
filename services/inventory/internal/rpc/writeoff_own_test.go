package rpc_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

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

// Who has honey in it and did not ask for it to be written off does not end the request either way.
func TestNobodyOfTheOfficeTakesBackAboutTheirOwnHoney(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	o := f.missing(item(3), "5.0")
	as := func(member string, roles ...accessv1.Role) error {
		who := access.Actor{Login: "users/wh1", Roles: append(roles, accessv1.Role_ROLE_MEMBER), Member: "members/" + member}
		if roles[0] == office {
			who.Login = "users/office9"
		}
		_, err := inventoryv1.NewWriteOffServiceClient(f.server.As(who)).WithdrawWriteOff(t.Context(), &inventoryv1.WithdrawWriteOffRequest{
			RequestId: request(), Name: o.GetName(), Reason: "looked for it myself",
		})
		return err
	}
	interested(t, as("M-0003", office), o)
	require.NoError(t, as("M-0004", office), "a member may, of others' honey")
	o = f.missing(item(3), "5.0")
	require.NoError(t, as("M-0003", warehouse), "who asked may: nothing leaves the books by it")
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

// takeBack is one person of the floor taking a request back.
func (f *floor) takeBack(login string, role accessv1.Role, o *inventoryv1.WriteOff, reason string) (*inventoryv1.WriteOff, error) {
	return f.offs(login, role).WithdrawWriteOff(context.Background(), &inventoryv1.WithdrawWriteOffRequest{RequestId: request(), Name: o.GetName(), Reason: reason})
}

func TestWhoAskedOrTheOfficeTakesAWriteOffBackWhileItWaits(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	o := f.missing(item(2), "640.0")
	_, err := f.takeBack("wh1", warehouse, o, "")
	rpctest.Faults(t, err, "reason")
	for login, role := range map[string]accessv1.Role{"wh2": warehouse, "line1": line} {
		_, err = f.takeBack(login, role, o, "let it be")
		refused := rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_ALLOWED, map[string]string{"resource": o.GetName(), "first": "users/wh1"})
		require.Contains(t, refused.Message, "users/wh1 asked for this honey to be written off: only who asked takes it back, or the office")
	}
	_, err = f.takeBack("auditor1", accessv1.Role_ROLE_AUDITOR, o, "let it be")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_ALLOWED, nil)
	own := f.missing(item(3), "5.0")
	_, err = f.takeBack("wh1", warehouse, own, "miscounted")
	require.NoError(t, err, "who asked")
	taken := &inventoryv1.WithdrawWriteOffRequest{RequestId: request(), Name: o.GetName(), Reason: "behind the hot room"}
	done, err := f.offs("office1", office).WithdrawWriteOff(t.Context(), taken)
	require.NoError(t, err, "who asked is at home")
	same, err := f.offs("office1", office).WithdrawWriteOff(t.Context(), taken)
	require.NoError(t, err)
	require.True(t, proto.Equal(done, same))
	require.Equal(t, inventoryv1.WriteOffState_WRITE_OFF_STATE_WITHDRAWN, done.GetState())
	require.Equal(t, []string{"users/wh1", "looked for twice", "users/office1", "behind the hot room", "", "640.0"}, []string{
		done.GetAsker(), done.GetReason(), done.GetDecider(), done.GetDecideReason(), done.GetTransfer(), done.GetHeldNow().GetValue(),
	})
	read, err := f.offs("auditor1", accessv1.Role_ROLE_AUDITOR).GetWriteOff(t.Context(), &inventoryv1.GetWriteOffRequest{Name: o.GetName()})
	require.NoError(t, err)
	require.True(t, proto.Equal(done, read))
	require.Equal(t, 2, f.events("WriteOffWithdrawn"))
	require.Equal(t, "0.0", f.balanced().GetAskedWriteOff().GetValue(), "it waits no more")

	_, err = f.decide("office1", o, approved, "")
	refused := rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": o.GetName(), "state": "WITHDRAWN"})
	require.Contains(t, refused.Message, "was withdrawn by users/office1")
	_, err = f.takeBack("wh1", warehouse, o, "I found it too")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "WITHDRAWN"})
	again := f.missing(item(2), "640.0")
	_, err = f.decide("office1", again, declined, "look behind the hot room")
	require.NoError(t, err)
	_, err = f.takeBack("wh1", warehouse, again, "too late")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "DECLINED"})
	_, err = f.takeBack("wh1", warehouse, &inventoryv1.WriteOff{Name: "writeOffs/" + request()}, "not there")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, nil)
}

// However many are at it, a request ends once.
func TestAWriteOffIsWithdrawnOrDecided(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	for n := 1; n <= 4; n++ {
		o := f.missing(item(n), "10.0")
		ended := make(chan error, 4)
		for _, end := range []func() error{
			func() error { _, err := f.takeBack("wh1", warehouse, o, "it turned up"); return err },
			func() error { _, err := f.takeBack("office3", office, o, "it turned up"); return err },
			func() error { _, err := f.decide("office1", o, approved, ""); return err },
			func() error { _, err := f.decide("office2", o, declined, "look again"); return err },
		} {
			go func() { ended <- end() }()
		}
		done := 0
		for range 4 {
			if err := <-ended; err == nil {
				done++
			} else {
				rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": o.GetName()})
			}
		}
		require.Equal(t, 1, done)
	}
	f.balanced()
}
