package rpc_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/rpctest"
)

func (d *dock) register(tag string, container intakev1.Container, owner string) *intakev1.Drum {
	d.t.Helper()
	req := &intakev1.RegisterDrumRequest{
		RequestId: id(), DrumTag: tag, Container: container, Ownership: intakev1.DrumOwnership_DRUM_OWNERSHIP_COOPERATIVE,
	}
	if owner != "" {
		req.Ownership, req.Owner = intakev1.DrumOwnership_DRUM_OWNERSHIP_MEMBER, "members/"+owner
	}
	drum, err := d.store.RegisterDrum(d.t.Context(), req)
	require.NoError(d.t, err)
	return drum
}

func (d *dock) retire(tag string) (*intakev1.Drum, error) {
	return d.store.RetireDrum(d.t.Context(), &intakev1.RetireDrumRequest{RequestId: id(), Name: "drums/" + tag, Reason: "lining failed"})
}

func TestRegisteredContainerDecidesWhatIsUsual(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket := d.open("M-0007")
	d.register("FC-00001", intakev1.Container_CONTAINER_PLASTIC, "")
	steel := usual(ticket, "FC-00001")
	_, err := d.clerk.WeighBarrel(t.Context(), steel)
	got := rpctest.RefusedAs(t, err, errorv1.Reason_REASON_REASON_REQUIRED, map[string]string{"field": "tare", "low": "18.0", "high": "25.0"})
	require.Equal(t, "a tare of 42.0 lb is unusual for a 55-gallon plastic drum (usually 18.0 to 25.0 lb): check it, or say in reason why it is right", got.Message)
	require.Empty(t, d.ticket(ticket.GetName()).GetBarrels())

	light := usual(ticket, "FC-00001")
	light.Gross, light.Tare = lb("660.0"), lb("20.0")
	barrel, err := d.clerk.WeighBarrel(t.Context(), light)
	require.NoError(t, err)
	require.Empty(t, barrel.GetWarnings())
	require.Equal(t, int32(1), barrel.GetLine())
	require.True(t, proto.Equal(barrel, d.barrel(barrel.GetName())))

	d.register("FC-00002", intakev1.Container_CONTAINER_STEEL_CLOSED_HEAD, "")
	heavy := usual(ticket, "FC-00002")
	heavy.Tare, heavy.Reason = lb("52.0"), "weighed twice"
	barrel, err = d.clerk.WeighBarrel(t.Context(), heavy)
	require.NoError(t, err)
	require.Equal(t, []string{"a tare of 52.0 lb is unusual for a 55-gallon steel drum with bung (usually 38.0 to 50.0 lb)"}, barrel.GetWarnings())
	require.Equal(t, int32(2), barrel.GetLine())
	light.RequestId = id()
	_, err = d.clerk.WeighBarrel(t.Context(), light)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_DRUM_IN_USE, map[string]string{"drum": "FC-00001"})
	require.Equal(t, "1272.5", sum(t, d, ticket), "the ticket counts each barrel once")
}

// sum closes over the invariant that a read ticket's total is that of its lines.
func sum(t *testing.T, d *dock, ticket *intakev1.Ticket) string {
	t.Helper()
	read := d.ticket(ticket.GetName())
	require.Len(t, read.GetBarrels(), 2)
	return read.GetNetTotal().GetValue()
}

// The drum that was found 9 lb heavier than its stencil comes back the next year with the same stencil.
func TestWeighedDrumIsRemembered(t *testing.T) {
	t.Parallel()
	d := ready(t)
	d.deliver("M-0007", 442, 1)
	_, err := d.store.ReleaseDrum(t.Context(), &intakev1.ReleaseDrumRequest{
		RequestId: id(), Name: "drums/FC-00442", Reason: "drained", EmptyWeight: lb("51.0"),
	})
	require.NoError(t, err)
	ticket := d.open("M-0008")
	_, err = d.clerk.WeighBarrel(t.Context(), usual(ticket, "FC-00442"))
	got := rpctest.RefusedAs(t, err, errorv1.Reason_REASON_REASON_REQUIRED, map[string]string{"field": "tare", "low": "49.0", "high": "53.0"})
	require.Equal(t, "drum FC-00442 weighed 51.0 lb when it was last empty, but the tare says 42.0 lb: check it, or say in reason why it is right", got.Message)
	right := usual(ticket, "FC-00442")
	right.Tare, right.TareKind = lb("50.5"), intakev1.TareKind_TARE_KIND_WEIGHED_EMPTY
	barrel, err := d.clerk.WeighBarrel(t.Context(), right)
	require.NoError(t, err)
	require.Empty(t, barrel.GetWarnings())
}

func TestRetiredDrumIsNotFilled(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket := d.deliver("M-0007", 442, 1)
	_, err := d.retire("FC-00442")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_DRUM_IN_USE, map[string]string{"barrel": ticket.GetBarrels()[0].GetName()})
	_, err = d.store.ReleaseDrum(t.Context(), &intakev1.ReleaseDrumRequest{RequestId: id(), Name: "drums/FC-00442", Reason: "drained"})
	require.NoError(t, err)
	retired, err := d.retire("FC-00442")
	require.NoError(t, err)
	require.Equal(t, "lining failed", retired.GetRetireReason())
	require.True(t, proto.Equal(retired, d.drum("FC-00442")))
	facts := d.facts()
	require.True(t, proto.Equal(retired, payload[*intakev1.DrumRetired](t, facts[len(facts)-1]).GetDrum()))

	state := map[string]string{"state": "RETIRED", "resource": "drums/FC-00442"}
	_, err = d.clerk.WeighBarrel(t.Context(), usual(d.open("M-0007"), "FC-00442"))
	got := rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, state)
	require.Equal(t, "drum FC-00442 was taken out of use (lining failed): move the honey to another drum", got.Message)
	_, err = d.retire("FC-00442")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, state)
	_, err = d.store.RegisterDrum(t.Context(), &intakev1.RegisterDrumRequest{
		RequestId: id(), DrumTag: "FC-00442", Container: intakev1.Container_CONTAINER_PAIL, Ownership: intakev1.DrumOwnership_DRUM_OWNERSHIP_EXCHANGE,
	})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, state)
	_, err = d.retire("FC-09999")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "drums/FC-09999"})
}

func TestRegisteringDrums(t *testing.T) {
	t.Parallel()
	d := ready(t)
	first := d.register("FC-00002", intakev1.Container_CONTAINER_STEEL_OPEN_HEAD, "M-0007")
	require.Equal(t, "members/M-0007", first.GetOwner())
	require.True(t, proto.Equal(first, d.drum("FC-00002")))
	d.clock.Advance(time.Hour)
	again := d.register("FC-00002", intakev1.Container_CONTAINER_STEEL_LINED, "")
	require.Empty(t, again.GetOwner(), "the newest word counts")
	require.True(t, proto.Equal(first.GetRegisterTime(), again.GetRegisterTime()))
	facts := d.facts()
	require.True(t, proto.Equal(again, payload[*intakev1.DrumRegistered](t, facts[len(facts)-1]).GetDrum()))
	d.register("FC-00001", intakev1.Container_CONTAINER_PAIL, "M-0008")
	d.register("FC-00003", intakev1.Container_CONTAINER_TOTE, "M-0008")
	ticket := d.open("M-0007")
	barrel := d.weigh(ticket, "FC-00002")

	list := func(req *intakev1.ListDrumsRequest) []string {
		t.Helper()
		var tags []string
		for {
			page, err := d.auditor.ListDrums(t.Context(), req)
			require.NoError(t, err)
			for _, drum := range page.GetDrums() {
				tags = append(tags, drum.GetName()[len("drums/"):])
				require.True(t, proto.Equal(drum, d.drum(tags[len(tags)-1])))
			}
			if req.PageToken = page.GetNextPageToken(); req.GetPageToken() == "" {
				return tags
			}
		}
	}
	require.Equal(t, []string{"FC-00001", "FC-00002", "FC-00003"}, list(&intakev1.ListDrumsRequest{PageSize: 2}))
	require.Equal(t, []string{"FC-00001", "FC-00003"}, list(&intakev1.ListDrumsRequest{PageSize: 1, Owner: "members/M-0008"}))
	require.Equal(t, barrel.GetName(), d.drum("FC-00002").GetOpenBarrel())

	refused := func(ownership intakev1.DrumOwnership, owner string) error {
		_, err := d.store.RegisterDrum(t.Context(), &intakev1.RegisterDrumRequest{
			RequestId: id(), DrumTag: "FC-00004", Container: intakev1.Container_CONTAINER_PAIL, Ownership: ownership, Owner: owner,
		})
		return err
	}
	member, exchange := intakev1.DrumOwnership_DRUM_OWNERSHIP_MEMBER, intakev1.DrumOwnership_DRUM_OWNERSHIP_EXCHANGE
	rpctest.Faults(t, refused(member, ""), "owner")
	rpctest.Faults(t, refused(exchange, "members/M-0007"), "owner")
	rpctest.Faults(t, refused(member, "M-0007"), "owner")
	rpctest.RefusedAs(t, refused(member, "members/M-0404"), errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "members/M-0404"})
}
