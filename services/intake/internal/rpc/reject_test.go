package rpc_test

import (
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/rpctest"
)

func TestRejectedBarrelWeighsNothing(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket := d.open("M-0007")
	d.sample(d.weigh(ticket, "FC-00442"))
	req := &intakev1.RejectBarrelRequest{
		RequestId: id(), Ticket: ticket.GetName(), DrumTag: "FC-00450", Reason: intakev1.RejectReason_REJECT_REASON_FERMENTING,
		Note: "foaming at the bung", PhotoSha256: strings.Repeat("0a", 32),
	}
	rejected, err := d.clerk.RejectBarrel(t.Context(), req)
	require.NoError(t, err)
	require.Equal(t, intakev1.RejectReason_REJECT_REASON_FERMENTING, rejected.GetReason())
	require.Equal(t, intakev1.RejectFate_REJECT_FATE_UNSPECIFIED, rejected.GetFate())
	facts := d.facts()
	told := payload[*intakev1.BarrelRejected](t, facts[len(facts)-1])
	require.True(t, proto.Equal(rejected, told.GetRejectedBarrel()))
	require.Equal(t, "members/M-0007", told.GetMember())
	closed := d.close(ticket, 1)
	require.Equal(t, "642.5", closed.GetNetTotal().GetValue())
	req.RequestId = id()
	_, err = d.clerk.RejectBarrel(t.Context(), req)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "CLOSED"})
	req.RequestId, req.PhotoSha256 = id(), "photo.jpg"
	_, err = d.clerk.RejectBarrel(t.Context(), req)
	rpctest.Faults(t, err, "photo_sha256")

	exit := &intakev1.RecordRejectExitRequest{
		RequestId: id(), Name: rejected.GetName(), Fate: intakev1.RejectFate_REJECT_FATE_COLLECTED, Note: "taken back by the hauler",
	}
	left, err := d.store.RecordRejectExit(t.Context(), exit)
	require.NoError(t, err)
	require.Equal(t, "users/warehouse1", left.GetExitRecorder())
	exit.RequestId = id()
	_, err = d.store.RecordRejectExit(t.Context(), exit)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "LEFT", "resource": rejected.GetName()})

	d.requestVoid(ticket, "members/M-0008")
	stands, err := d.office.ApproveTicketVoid(t.Context(), approval(ticket))
	require.NoError(t, err)
	list := func(by intakev1.IntakeServiceClient, ticket string) ([]*intakev1.RejectedBarrel, error) {
		listed, err := by.ListRejectedBarrels(t.Context(), &intakev1.ListRejectedBarrelsRequest{Ticket: ticket})
		return listed.GetRejectedBarrels(), err
	}
	seen, err := list(d.member("M-0008"), stands.GetName())
	require.NoError(t, err)
	require.Len(t, seen, 1, "the reissue still says where it is")
	require.True(t, proto.Equal(left, seen[0]))
	_, err = list(d.member("M-0008"), ticket.GetName())
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": ticket.GetName()})
}

func TestTicketOfRejectedBarrelsOnly(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket := d.open("M-0007")
	_, err := d.clerk.CloseTicket(t.Context(), closing(ticket, 0))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "OPEN"})
	_, err = d.clerk.RejectBarrel(t.Context(), &intakev1.RejectBarrelRequest{
		RequestId: id(), Ticket: ticket.GetName(), Reason: intakev1.RejectReason_REJECT_REASON_LEAKING, Note: "bottom seam",
	})
	require.NoError(t, err)
	require.Equal(t, "0.0", d.close(ticket, 0).GetNetTotal().GetValue())
}

func TestContainerAccount(t *testing.T) {
	t.Parallel()
	d := ready(t)
	move := func(kind intakev1.ContainerMoveKind, c intakev1.Container, count int32, note string) (*intakev1.ContainerAccount, error) {
		return d.store.RecordContainerMove(t.Context(), &intakev1.RecordContainerMoveRequest{
			RequestId: id(), Member: "members/M-0007", Container: c, Kind: kind, Count: count, Note: note,
		})
	}
	const (
		out, full  = intakev1.ContainerMoveKind_CONTAINER_MOVE_KIND_GIVEN_OUT, intakev1.ContainerMoveKind_CONTAINER_MOVE_KIND_BACK_FULL
		empty, off = intakev1.ContainerMoveKind_CONTAINER_MOVE_KIND_BACK_EMPTY, intakev1.ContainerMoveKind_CONTAINER_MOVE_KIND_LOST
		steel, tot = intakev1.Container_CONTAINER_STEEL_CLOSED_HEAD, intakev1.Container_CONTAINER_TOTE
	)
	_, err := move(full, steel, 1, "")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_OUT_OF_RANGE, map[string]string{"field": "count", "high": "0"})
	for _, m := range []struct {
		kind  intakev1.ContainerMoveKind
		c     intakev1.Container
		count int32
	}{{out, tot, 2}, {out, steel, 40}, {full, steel, 24}, {empty, steel, 3}, {off, steel, 2}} {
		_, err := move(m.kind, m.c, m.count, "counted at the gate")
		require.NoError(t, err)
	}
	_, err = move(off, steel, 1, "")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_REASON_REQUIRED, nil)
	_, err = move(empty, steel, 12, "")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_OUT_OF_RANGE, map[string]string{"high": "11"})
	account, err := d.member("M-0007").GetContainerAccount(t.Context(), &intakev1.GetContainerAccountRequest{Member: "members/M-0007"})
	require.NoError(t, err)
	require.Len(t, account.GetBalances(), 2)
	require.True(t, proto.Equal(&intakev1.ContainerBalance{
		Container: steel, GivenOut: 40, BackFull: 24, BackEmpty: 3, Lost: 2, Balance: 13, Deposit: &typev1.Money{Amount: "0.00", CurrencyCode: "USD"},
	}, account.GetBalances()[0]))
	require.Equal(t, int64(2), account.GetBalances()[1].GetBalance())
	require.Len(t, account.GetMoves(), 5)
	require.Equal(t, off, account.GetMoves()[0].GetKind())
	facts := d.facts()
	require.True(t, proto.Equal(account.GetBalances()[0], payload[*intakev1.ContainersMoved](t, facts[len(facts)-1]).GetBalance()))
	_, err = d.member("M-0008").GetContainerAccount(t.Context(), &intakev1.GetContainerAccountRequest{Member: "members/M-0007"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "members/M-0007"})

	// 11 are left; of twenty who bring one back at once, eleven are believed.
	var group sync.WaitGroup
	for range 20 {
		group.Go(func() { _, _ = move(empty, steel, 1, "") })
	}
	group.Wait()
	account, err = d.office.GetContainerAccount(t.Context(), &intakev1.GetContainerAccountRequest{Member: "members/M-0007"})
	require.NoError(t, err)
	require.Equal(t, int64(2), account.GetBalances()[0].GetBalance(), "the lost ones")
}
