package rpc_test

import (
	"fmt"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/rpctest"
)

// captured is a usual barrel whose weight is a captured one.
func captured(ticket *intakev1.Ticket, drum string, i *intakev1.Indication) *intakev1.WeighBarrelRequest {
	w := usual(ticket, drum)
	w.Gross, w.RawIndication, w.Stable, w.Indication = nil, "", false, i.GetName()
	return w
}

// put loads the scale and captures what it shows.
func (p *platform) put(script string) *intakev1.Indication {
	p.t.Helper()
	p.play(script + "\nsettle")
	var got *intakev1.Indication
	require.Eventually(p.t, func() bool {
		var err error
		got, err = p.capture("scales/2")
		return err == nil
	}, 20*time.Second, 5*time.Millisecond)
	return got
}

func TestACapturedWeightServesOneBarrel(t *testing.T) {
	t.Parallel()
	p := onPlatform(t)
	p.newScale("7")
	ticket := p.open("M-0007")
	taken := p.put("put 684.5")
	refused := func(reason errorv1.Reason, want map[string]string, change func(w *intakev1.WeighBarrelRequest)) string {
		t.Helper()
		w := captured(ticket, "FC-00001", taken)
		change(w)
		_, err := p.dock.clerk.WeighBarrel(t.Context(), w)
		return rpctest.RefusedAs(t, err, reason, want).Message
	}
	fields := func(field string, change func(w *intakev1.WeighBarrelRequest)) {
		t.Helper()
		refused(errorv1.Reason_REASON_FIELD_INVALID, map[string]string{"field": field}, change)
	}
	fields("gross", func(w *intakev1.WeighBarrelRequest) { w.Gross = lb("685.0") })
	fields("indication", func(w *intakev1.WeighBarrelRequest) { w.Scale = "scales/7" })
	fields("indication", func(w *intakev1.WeighBarrelRequest) { w.Manual, w.Reason = true, "typed" })
	fields("indication", func(w *intakev1.WeighBarrelRequest) { w.Indication, w.Gross, w.Stable = "", lb("684.5"), true })
	nobody := "scales/2/indications/" + id()
	refused(errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": nobody}, func(w *intakev1.WeighBarrelRequest) { w.Indication = nobody })
	p.clock.Set(taken.GetCaptureTime().AsTime().Add(6 * time.Minute))
	require.Equal(t, "this weight was taken 6m0s before the barrel was weighed, and may be used for 5m0s: put the barrel on the scale and take it again",
		refused(errorv1.Reason_REASON_OUT_OF_RANGE, map[string]string{"field": "indication"}, func(*intakev1.WeighBarrelRequest) {}))
	p.clock.Set(taken.GetCaptureTime().AsTime().Add(5 * time.Minute))

	// Ten pages send the same weight for ten drums at once.
	var barrels atomic.Int64
	var group sync.WaitGroup
	for i := range 10 {
		group.Go(func() {
			_, err := p.dock.clerk.WeighBarrel(t.Context(), captured(ticket, fmt.Sprintf("FC-%05d", i), taken))
			if err == nil {
				barrels.Add(1)
				return
			}
			rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "USED", "resource": taken.GetName()})
		})
	}
	group.Wait()
	require.Equal(t, int64(1), barrels.Load())
	weighed := p.ticket(ticket.GetName()).GetBarrels()
	require.Len(t, weighed, 1)
	_, err := p.dock.clerk.ReweighBarrel(t.Context(), &intakev1.ReweighBarrelRequest{
		RequestId: id(), Barrel: weighed[0].GetName(), Scale: "scales/2", Indication: taken.GetName(), SealIntact: true,
	})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "USED", "barrel": weighed[0].GetName()})
}

// A weight that was neither captured nor said to be typed or from an offline dock is not taken where the scale sends its own;
// who says so is counted.
func TestWhoWeighsWithoutTheIndicatorIsCounted(t *testing.T) {
	t.Parallel()
	p := onPlatform(t)
	ticket := p.open("M-0007")
	taken := p.put("put 684.5")
	p.clock.Set(taken.GetCaptureTime().AsTime().Add(time.Minute))
	require.NoError(t, func() error {
		_, err := p.dock.clerk.WeighBarrel(t.Context(), captured(ticket, "FC-00001", taken))
		return err
	}())
	typed, offline := usual(ticket, "FC-00002"), usual(ticket, "FC-00003")
	typed.Manual, typed.Stable, typed.Reason = true, false, "cable broken"
	offline.WeighTime = timestamppb.New(p.clock.Now().Add(-time.Hour))
	for _, w := range []*intakev1.WeighBarrelRequest{typed, offline} {
		_, err := p.dock.clerk.WeighBarrel(t.Context(), w)
		require.NoError(t, err)
	}
	today := p.clock.Now().Format(time.DateOnly)
	report, err := p.auditor.ReportWeighers(t.Context(), &intakev1.ReportWeighersRequest{FromDate: p.clock.Now().AddDate(0, 0, -2).Format(time.DateOnly), ToDate: today})
	require.NoError(t, err)
	require.True(t, proto.Equal(&intakev1.WeigherLine{Weigher: "users/dock1", Barrels: 3, Manual: 1, Captured: 1, Offline: 1}, report.GetLines()[0]), report)
}

// Between two barrels a scale moves. What did not is one weight taken twice, or an indicator that hangs.
func TestAScaleMovesBetweenTwoBarrels(t *testing.T) {
	t.Parallel()
	p := onPlatform(t)
	stream := p.watch()
	ticket := p.open("M-0007")
	first := p.put("put 684.5")
	p.clock.Set(first.GetCaptureTime().AsTime())
	_, err := p.capture("scales/2")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{
		"state": "NOT_MOVED", "resource": first.GetName(), "indication": first.GetName(), "weight": "684.5",
	})
	_, err = p.dock.clerk.WeighBarrel(t.Context(), captured(ticket, "FC-00442", first))
	require.NoError(t, err)

	// The next barrel stands there, and the display still shows the one before; another replica, which never saw it move, says so too.
	p.play("frozen\nclear\nput 601.0\nwait 200ms")
	stuck := "scale 2 has not moved off 684.5 lb since drum FC-00442 was weighed at " + first.GetCaptureTime().AsTime().In(p.app.Zone).Format(time.TimeOnly) +
		": take the load off and see that it returns to zero; if it does not, it is stuck"
	other := intakev1.NewIndicatorServiceClient(p.replica().As(rpctest.Person("dock2", accessv1.Role_ROLE_DOCK)))
	require.Eventually(t, func() bool {
		shown, err := other.GetIndication(t.Context(), &intakev1.GetIndicationRequest{Scale: "scales/2"})
		return err == nil && shown.GetState() == intakev1.IndicationState_INDICATION_STATE_STABLE
	}, 20*time.Second, 5*time.Millisecond)
	for _, clerk := range []intakev1.IndicatorServiceClient{p.clerk, other} {
		_, err = clerk.CaptureIndication(t.Context(), &intakev1.CaptureIndicationRequest{RequestId: id(), Scale: "scales/2"})
		got := rpctest.Refused(t, err, codes.Unavailable, errorv1.Reason_REASON_UNAVAILABLE, map[string]string{"state": "STUCK"})
		require.Equal(t, stuck, got.Message)
	}
	require.Equal(t, intakev1.IndicationState_INDICATION_STATE_STUCK, p.until(stream, stuck).GetState(), "whoever watches is told")

	// It hangs no more. The next barrel happens to weigh the same.
	p.play("healthy\nclear\nsettle\nwait 500ms")
	second := p.put("put 684.5")
	require.NotEqual(t, first.GetName(), second.GetName())
	_, err = p.dock.clerk.WeighBarrel(t.Context(), captured(ticket, "FC-00443", second))
	require.NoError(t, err)
}

func TestACaptureMayBeSentTwice(t *testing.T) {
	t.Parallel()
	p := onPlatform(t)
	req := &intakev1.CaptureIndicationRequest{RequestId: id(), Scale: "scales/2"}
	p.play("put 684.5\nsettle")
	var first *intakev1.Indication
	require.Eventually(t, func() bool {
		var err error
		first, err = p.clerk.CaptureIndication(t.Context(), req)
		return err == nil
	}, 20*time.Second, 5*time.Millisecond)
	p.play("jammed\nput 300.0\nwait 100ms")
	again, err := p.clerk.CaptureIndication(t.Context(), req)
	require.NoError(t, err)
	require.True(t, proto.Equal(first, again), "the answer that was lost, not what stands there now")

	// Nothing on the scale is nothing however often it is looked at: a check begins with it.
	p.play("healthy")
	zero := p.put("clear")
	require.Equal(t, "0.0", zero.GetWeight().GetValue())
	require.NotEqual(t, zero.GetName(), p.put("clear").GetName())
}
