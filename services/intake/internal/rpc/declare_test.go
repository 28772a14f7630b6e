package rpc_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/rpctest"
)

func TestLateDeclaration(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket, err := d.clerk.OpenTicket(t.Context(), &intakev1.OpenTicketRequest{RequestId: id(), Member: "members/M-0007", CropYear: 2026})
	require.NoError(t, err)
	d.sample(d.weigh(ticket, "FC-00442"))
	closed := d.close(ticket, 1)
	require.False(t, closed.GetHarvestDeclared())
	declare := func(name string) (*intakev1.Ticket, error) {
		return d.office.DeclareHarvest(t.Context(), &intakev1.DeclareHarvestRequest{RequestId: id(), Name: name, Note: "folder 2026, sheet 41"})
	}
	declared, err := declare(ticket.GetName())
	require.NoError(t, err)
	require.False(t, declared.GetHarvestDeclared(), "the ticket stays as it was signed")
	require.NotNil(t, declared.GetLateDeclareTime())
	require.True(t, proto.Equal(declared, d.ticket(ticket.GetName())))
	facts := d.facts()
	fact := payload[*intakev1.HarvestDeclared](t, facts[len(facts)-1])
	require.True(t, proto.Equal(declared, fact.GetTicket()))
	require.Len(t, fact.GetTicket().GetBarrels(), 1)
	_, err = declare(ticket.GetName())
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "DECLARED"})
	_, err = declare(d.open("M-0007").GetName())
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "DECLARED"})

	d.requestVoid(ticket, "members/M-0008")
	stands, err := d.office.ApproveTicketVoid(t.Context(), approval(ticket))
	require.NoError(t, err)
	require.True(t, stands.GetHarvestDeclared(), "it was there when the reissue was made")
	_, err = declare(ticket.GetName())
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "SUPERSEDED"})
}
