package rpc_test

import (
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/rpctest"
)

func TestWeighingIsRefused(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket := d.open("M-0007")
	for name, c := range map[string]struct {
		change   func(*intakev1.WeighBarrelRequest)
		reason   errorv1.Reason
		metadata map[string]string
	}{
		"moving": {
			func(r *intakev1.WeighBarrelRequest) { r.Stable = false },
			errorv1.Reason_REASON_UNSTABLE_READING,
			map[string]string{"indication": "  684.5 lb"},
		},
		"overload": {
			func(r *intakev1.WeighBarrelRequest) { r.Gross = lb("1050.5") },
			errorv1.Reason_REASON_OUT_OF_RANGE,
			map[string]string{"field": "gross", "low": "10.0", "high": "1050.0"},
		},
		"off the division": {
			func(r *intakev1.WeighBarrelRequest) { r.Gross = lb("684.7") },
			errorv1.Reason_REASON_OUT_OF_RANGE,
			map[string]string{"field": "gross", "division": "0.5"},
		},
		"below the minimum load": {
			func(r *intakev1.WeighBarrelRequest) { r.Gross, r.Tare = lb("9.5"), lb("4.0") },
			errorv1.Reason_REASON_OUT_OF_RANGE,
			map[string]string{"field": "gross"},
		},
		"nothing left": {
			func(r *intakev1.WeighBarrelRequest) { r.Gross = lb("42") },
			errorv1.Reason_REASON_OUT_OF_RANGE,
			map[string]string{"field": "gross"},
		},
		"light without a word": {
			func(r *intakev1.WeighBarrelRequest) { r.Gross = lb("454") },
			errorv1.Reason_REASON_REASON_REQUIRED,
			map[string]string{"field": "net", "low": "560.0", "high": "700.0"},
		},
		"typed without a word": {
			func(r *intakev1.WeighBarrelRequest) { r.Manual = true },
			errorv1.Reason_REASON_REASON_REQUIRED,
			map[string]string{"field": "reason"},
		},
		"no such scale": {
			func(r *intakev1.WeighBarrelRequest) { r.Scale = "scales/9" },
			errorv1.Reason_REASON_NOT_FOUND,
			map[string]string{"resource": "scales/9"},
		},
		"no such ticket": {
			func(r *intakev1.WeighBarrelRequest) { r.Ticket = "tickets/3c2f6f9e-90d6-4ad4-9d3c-b45a3a70c0a1" },
			errorv1.Reason_REASON_NOT_FOUND,
			map[string]string{"resource": "tickets/3c2f6f9e-90d6-4ad4-9d3c-b45a3a70c0a1"},
		},
		"kilograms": {
			func(r *intakev1.WeighBarrelRequest) { r.Gross.Unit = "KG" },
			errorv1.Reason_REASON_FIELD_INVALID,
			map[string]string{"field": "gross.unit"},
		},
	} {
		req := usual(ticket, "FC-00442")
		c.change(req)
		_, err := d.clerk.WeighBarrel(t.Context(), req)
		got := rpctest.RefusedAs(t, err, c.reason, c.metadata)
		require.NotEmpty(t, got.Message, name)
	}
	require.Empty(t, d.ticket(ticket.GetName()).GetBarrels(), "a refused barrel leaves nothing")
	require.Equal(t, int32(1), d.weigh(ticket, "FC-00442").GetLine())
}

func TestMalformedWeighingNamesEveryField(t *testing.T) {
	t.Parallel()
	d := ready(t)
	req := usual(&intakev1.Ticket{Name: "tickets/17"}, "FC-00442")
	req.Scale, req.BarrelId = "2", ""
	_, err := d.clerk.WeighBarrel(t.Context(), req)
	rpctest.Faults(t, err, "ticket", "scale")
	req.DrumTag, req.Gross.Value = "fc 442", "684.5555"
	_, err = d.clerk.WeighBarrel(t.Context(), req)
	rpctest.Faults(t, err, "drum_tag", "gross.value")
}

func TestUnusualBarrelIsTakenWithAReason(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket := d.open("M-0007")
	req := usual(ticket, "FC-00442")
	req.Gross, req.Manual, req.Stable, req.Reason = lb("454.5"), true, false, "top-off barrel; cable of the indicator broken"
	b, err := d.clerk.WeighBarrel(t.Context(), req)
	require.NoError(t, err)
	require.Len(t, b.GetWarnings(), 2)
	require.True(t, b.GetManual())
	require.Equal(t, req.GetReason(), b.GetReason())
}

// A tag is scanned that still holds last year's barrel.
func TestDrumStillOpenFromLastYear(t *testing.T) {
	t.Parallel()
	d := ready(t)
	old := d.deliver("M-0007", 442, 1)
	d.clock.Set(morning.AddDate(1, 0, 0))
	ticket, err := d.clerk.OpenTicket(t.Context(), &intakev1.OpenTicketRequest{RequestId: id(), Member: "members/M-0008", CropYear: 2027})
	require.NoError(t, err)
	_, err = d.clerk.WeighBarrel(t.Context(), usual(ticket, "FC-00442"))
	got := rpctest.RefusedAs(t, err, errorv1.Reason_REASON_DRUM_IN_USE, map[string]string{
		"drum": "FC-00442", "barrel": old.GetBarrels()[0].GetName(),
	})
	require.Equal(t, "drum FC-00442 already holds a barrel that was not emptied: read the tag again, or have the warehouse release the drum first", got.Message)

	drum, err := d.store.ReleaseDrum(t.Context(), &intakev1.ReleaseDrumRequest{
		RequestId: id(), Name: "drums/FC-00442", Reason: "emptied into tank 3", EmptyWeight: lb("43.5"),
	})
	require.NoError(t, err)
	require.Empty(t, drum.GetOpenBarrel())
	require.Equal(t, "43.5", drum.GetLastTare().GetValue())
	require.Equal(t, int32(1), d.weigh(ticket, "FC-00442").GetLine())
}

func TestOneOfManyClerksFillsADrum(t *testing.T) {
	t.Parallel()
	d := ready(t)
	var tickets []*intakev1.Ticket
	for range 8 {
		tickets = append(tickets, d.open("M-0007"))
	}
	var filled, refused atomic.Int32
	var group sync.WaitGroup
	for _, ticket := range tickets {
		group.Go(func() {
			_, err := d.clerk.WeighBarrel(t.Context(), usual(ticket, "FC-00442"))
			switch got := apierr.Parse(err); {
			case err == nil:
				filled.Add(1)
			case got.Reason == "DRUM_IN_USE" && got.Code == codes.FailedPrecondition && got.Metadata["barrel"] != "":
				refused.Add(1)
			}
		})
	}
	group.Wait()
	require.Equal(t, int32(1), filled.Load())
	require.Equal(t, int32(7), refused.Load())
}

func TestReleasingADrum(t *testing.T) {
	t.Parallel()
	d := ready(t)
	release := func(tag string) error {
		_, err := d.store.ReleaseDrum(t.Context(), &intakev1.ReleaseDrumRequest{RequestId: id(), Name: "drums/" + tag, Reason: "returned"})
		return err
	}
	rpctest.RefusedAs(t, release("FC-00001"), errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "drums/FC-00001"})
	ticket := d.open("M-0007")
	barrel := d.weigh(ticket, "FC-00001")
	require.Equal(t, barrel.GetName(), d.drum("FC-00001").GetOpenBarrel())
	rpctest.RefusedAs(t, release("FC-00001"), errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "BEING_RECEIVED"})
	d.sample(barrel)
	d.close(ticket, 1)
	require.NoError(t, release("FC-00001"))
	rpctest.RefusedAs(t, release("FC-00001"), errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "FREE"})
	require.Equal(t, "42.0", d.drum("FC-00001").GetLastTare().GetValue())
	_, err := d.store.ReleaseDrum(t.Context(), &intakev1.ReleaseDrumRequest{
		RequestId: id(), Name: "drums/FC-00001", Reason: "returned", EmptyWeight: lb("0"),
	})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_OUT_OF_RANGE, map[string]string{"field": "empty_weight"})
	facts := d.facts()
	released := payload[*intakev1.DrumReleased](t, facts[len(facts)-1])
	require.Equal(t, barrel.GetName(), released.GetBarrel())
	require.Empty(t, released.GetDrum().GetOpenBarrel())
}
