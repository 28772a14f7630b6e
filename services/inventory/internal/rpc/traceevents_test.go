package rpc_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/fixture"
)

func (h *house) happened(from, through time.Time, kinds ...inventoryv1.TraceEventKind) (out []*inventoryv1.TraceEvent) {
	h.t.Helper()
	req := &inventoryv1.ListTraceEventsRequest{FromDate: from.Format(time.DateOnly), ThroughDate: through.Format(time.DateOnly), PageSize: 2}
	for {
		page, err := h.records("aud1", accessv1.Role_ROLE_AUDITOR).ListTraceEvents(h.t.Context(), req)
		require.NoError(h.t, err)
		for _, e := range page.GetEvents() {
			for _, kind := range kinds {
				if e.GetKind() == kind {
					out = append(out, e)
				}
			}
		}
		if req.PageToken = page.GetNextPageToken(); req.GetPageToken() == "" {
			return out
		}
	}
}

func TestWhatCameAndWhatWasHeldIsListed(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	received := f.happened(fixture.Start, fixture.Start.AddDate(0, 0, 1), inventoryv1.TraceEventKind_TRACE_EVENT_KIND_RECEIVED)
	byBarrel := map[string]*inventoryv1.TraceEvent{}
	for _, e := range received {
		require.NotContains(t, byBarrel, e.GetSubject(), "once")
		byBarrel[e.GetSubject()] = e
	}
	first := byBarrel[item(1)]
	require.NotNil(t, first)
	require.Equal(t, "640.0", first.GetMass().GetValue())
	require.Contains(t, first.GetTicket(), "tickets/")
	require.True(t, first.GetTime().AsTime().Before(fixture.Start.Add(24*time.Hour)), "when it was weighed in, not when it was taken into stock")
	_, err := f.db.Pool().Exec(t.Context(), `UPDATE barrel SET weigh_time = NULL WHERE barrel = $1`, fixture.ID("barrel", 1))
	require.NoError(t, err)
	require.Len(t, f.happened(fixture.Start, fixture.Start.AddDate(0, 0, 1), inventoryv1.TraceEventKind_TRACE_EVENT_KIND_RECEIVED), len(received)-1, "of an earlier release, until a rebuild")

	lot := f.packed()
	residue := f.hold(f.wh, 3, inventoryv1.HoldCode_HOLD_CODE_RESIDUE)
	f.clock.Advance(time.Minute)
	quality := f.hold(f.wh, 3, inventoryv1.HoldCode_HOLD_CODE_QUALITY)
	recall, err := f.wh.PlaceHold(t.Context(), &inventoryv1.PlaceHoldRequest{RequestId: request(), Place: lot.GetName(), Code: inventoryv1.HoldCode_HOLD_CODE_RECALL, Reason: "glass found in a jar"})
	require.NoError(t, err)
	for _, h := range []*inventoryv1.Hold{residue, quality} {
		f.clock.Advance(time.Minute)
		_, err = f.as("lead1", labLead).ReleaseHold(t.Context(), &inventoryv1.ReleaseHoldRequest{RequestId: request(), Name: h.GetName(), Reason: "looked over"})
		require.NoError(t, err)
	}
	type said struct {
		kind, subject, code, lot string
		still                    bool
	}
	var got []said
	for _, e := range f.happened(f.clock.Now(), f.clock.Now(), inventoryv1.TraceEventKind_TRACE_EVENT_KIND_HELD, inventoryv1.TraceEventKind_TRACE_EVENT_KIND_RELEASED) {
		require.Nil(t, e.GetMass())
		got = append(got, said{e.GetKind().String()[len("TRACE_EVENT_KIND_"):], e.GetSubject(), e.GetHoldCode().String()[len("HOLD_CODE_"):], e.GetLotCode(), e.GetStillHeld()})
	}
	require.Len(t, got, 5)
	require.Equal(t, said{"HELD", item(3), "RESIDUE", "", false}, got[0])
	require.ElementsMatch(t, []said{{"HELD", item(3), "QUALITY", "", false}, {"HELD", recall.GetPlace(), "RECALL", lot.GetCode(), false}}, got[1:3])
	require.Equal(t, []said{{"RELEASED", item(3), "RESIDUE", "", true}, {"RELEASED", item(3), "QUALITY", "", false}}, got[3:])
}
