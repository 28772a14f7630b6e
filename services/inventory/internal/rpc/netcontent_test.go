package rpc_test

import (
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/rpctest"
)

// jars is a closed lot of 200 jars.
func (f *floor) jars() *inventoryv1.PackLot {
	f.t.Helper()
	c := f.charge("T1", "0")
	f.fill(c.GetName(), 1)
	lot := f.start(c.GetName(), "CLOVER")
	_, err := f.draw(lot.GetName(), c.GetName(), "200.0")
	require.NoError(f.t, err)
	_, err = f.line.CheckNetContent(f.t.Context(), weighed(lot, "454", "454"))
	rpctest.RefusedAs(f.t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "OPEN"})
	lot, err = f.line.ClosePackLot(f.t.Context(), &inventoryv1.ClosePackLotRequest{RequestId: request(), Name: lot.GetName(), Jars: 200, MeanNet: lb("1.0")})
	require.NoError(f.t, err)
	return lot
}

// weighed is a sample of 12 jars alike in grams, but for the first.
func weighed(lot *inventoryv1.PackLot, first, rest string) *inventoryv1.CheckNetContentRequest {
	return &inventoryv1.CheckNetContentRequest{
		RequestId: request(), PackLot: lot.GetName(), Unit: inventoryv1.NetUnit_NET_UNIT_G, Declared: "454",
		NetWeights: append([]string{first}, slices.Repeat([]string{rest}, 11)...),
	}
}

func TestALotThatFailsItsNetContentCheckStaysUntilAnotherPersonReleasesIt(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	lot := f.jars()
	ship := func() error {
		_, err := f.line.Ship(t.Context(), &inventoryv1.ShipRequest{
			RequestId: request(), Customer: "North Mill Bakery", RecallContact: "555 0100", Carrier: "Valley Freight", CarrierAddress: "12 Depot Road, Lower Valley", CarrierTelephone: "555 0160", Lines: []*inventoryv1.ShipmentLine{{PackLot: lot.GetName(), Jars: 10}},
		})
		return err
	}
	require.NoError(t, ship())
	passed, err := f.line.CheckNetContent(t.Context(), weighed(lot, "455.5", "454.25"))
	require.NoError(t, err)
	require.True(t, passed.GetPassed())
	require.Equal(t, int64(200), passed.GetLotSize())
	require.Equal(t, "454.3542", passed.GetAverage())
	require.Equal(t, "19.9", passed.GetMaxAllowableVariation())
	require.NoError(t, ship())

	req := weighed(lot, "434", "456")
	failed, err := f.line.CheckNetContent(t.Context(), req)
	require.NoError(t, err)
	require.False(t, failed.GetPassed())
	require.True(t, failed.GetAveragePassed())
	require.Equal(t, int32(1), failed.GetPackagesShort())
	require.NotEmpty(t, failed.GetSentences())
	held := map[string]string{"hold": failed.GetName(), "code": "NET_CONTENT"}
	rpctest.RefusedAs(t, ship(), errorv1.Reason_REASON_ON_HOLD, held)
	_, err = f.line2.CheckNetContent(t.Context(), weighed(lot, "456", "456"))
	require.NoError(t, err)
	rpctest.RefusedAs(t, ship(), errorv1.Reason_REASON_ON_HOLD, held)

	release := &inventoryv1.ReleaseNetContentCheckRequest{RequestId: request(), Name: failed.GetName(), Reason: "the short jars were taken out"}
	_, err = f.as("line1", office).ReleaseNetContentCheck(t.Context(), release)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": "users/line1"})
	released, err := f.office.ReleaseNetContentCheck(t.Context(), release)
	require.NoError(t, err)
	require.Equal(t, "users/office1", released.GetReleaser())
	require.NoError(t, ship())
	for state, name := range map[string]string{"RELEASED": failed.GetName(), "PASSED": passed.GetName()} {
		_, err = f.office.ReleaseNetContentCheck(t.Context(), &inventoryv1.ReleaseNetContentCheckRequest{RequestId: request(), Name: name, Reason: "again"})
		rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": state, "resource": name})
	}
	list, err := f.office.ListNetContentChecks(t.Context(), &inventoryv1.ListNetContentChecksRequest{PackLot: lot.GetName()})
	require.NoError(t, err)
	require.Len(t, list.GetChecks(), 3)
	require.True(t, proto.Equal(released, list.GetChecks()[1]), "as it was answered")
	require.Equal(t, 3, f.events("NetContentChecked"))
	require.Equal(t, 1, f.events("NetContentReleased"))
}

func TestANetContentCheckIsRecordedOnceAndOnlyOfTheRightSample(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	lot := f.jars()
	req := weighed(lot, "456", "456")
	answers, errs := make([]*inventoryv1.NetContentCheck, 10), make([]error, 10)
	var wg sync.WaitGroup
	for i := range answers {
		wg.Go(func() { answers[i], errs[i] = f.line.CheckNetContent(t.Context(), req) })
	}
	wg.Wait()
	for i := range answers {
		require.NoError(t, errs[i])
		require.Equal(t, answers[0].GetName(), answers[i].GetName())
	}
	require.Equal(t, 1, f.events("NetContentChecked"))
	req.NetWeights[0] = "457"
	_, err := f.line.CheckNetContent(t.Context(), req)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_REQUEST_ID_REUSED, nil)

	req = weighed(lot, "456", "456")
	req.NetWeights = req.GetNetWeights()[:11]
	_, err = f.line.CheckNetContent(t.Context(), req)
	rpctest.Faults(t, err, "net_weights")
	req = weighed(lot, "-1", "456")
	req.Declared = "0"
	_, err = f.line.CheckNetContent(t.Context(), req)
	rpctest.Faults(t, err, "declared", "net_weights[0]")
	// A smaller number than the label's would let a short lot pass.
	req = weighed(lot, "440", "440")
	req.Declared = "440"
	_, err = f.line.CheckNetContent(t.Context(), req)
	rpctest.Faults(t, err, "declared")
	require.ErrorContains(t, err, "labels/CLOVER says 454.0 g")
	gross := weighed(lot, "668.2", "668.2")
	gross.TareWeights = []string{"214.1"}
	_, err = f.line.CheckNetContent(t.Context(), gross)
	rpctest.Faults(t, err, "tare_weights")
	gross.TareWeights = []string{"214.1", "214.2", "214.2"}
	checked, err := f.line.CheckNetContent(t.Context(), gross)
	require.NoError(t, err)
	require.Equal(t, []string{"214.1667", "454.0333"}, []string{checked.GetTare(), checked.GetAverage()})
	kept, err := f.office.ListNetContentChecks(t.Context(), &inventoryv1.ListNetContentChecksRequest{PackLot: lot.GetName()})
	require.NoError(t, err)
	require.True(t, proto.Equal(checked, kept.GetChecks()[len(kept.GetChecks())-1]), "as it was answered")
	gross.RequestId, gross.NetWeights[3] = request(), "200"
	_, err = f.line.CheckNetContent(t.Context(), gross)
	rpctest.Faults(t, err, "net_weights[3]")
	_, err = f.office.ListNetContentChecks(t.Context(), &inventoryv1.ListNetContentChecksRequest{PackLot: "packLots/" + request()})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, nil)
}
