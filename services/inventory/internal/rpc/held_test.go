package rpc_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/fixture"
	"barrelhead.example/services/kit/apierr"
)

// usesABarrel are the RPCs that could take a barrel, or honey out of it, from where it is.
func usesABarrel(f *floor, charge string) map[string]func(ctx context.Context, barrel string) error {
	return map[string]func(ctx context.Context, barrel string) error{
		"MoveBarrel": func(ctx context.Context, barrel string) error {
			_, err := f.wh.MoveBarrel(ctx, &inventoryv1.MoveBarrelRequest{RequestId: request(), Name: barrel, Location: "B1-R1"})
			return err
		},
		"FillCharge": func(ctx context.Context, barrel string) error {
			_, err := f.wh.FillCharge(ctx, &inventoryv1.FillChargeRequest{RequestId: request(), Name: charge, StockItem: barrel, Mass: lb("0.1")})
			return err
		},
		"SplitBarrel": func(ctx context.Context, barrel string) error {
			_, err := f.wh.SplitBarrel(ctx, &inventoryv1.SplitBarrelRequest{
				RequestId: request(), Name: barrel, Parts: []*inventoryv1.SplitPart{{DrumTag: "PAIL-1", Net: lb("1.0")}},
			})
			return err
		},
		"RecordLoss": func(ctx context.Context, barrel string) error {
			_, err := f.wh.RecordLoss(ctx, &inventoryv1.RecordLossRequest{
				RequestId: request(), From: barrel, Code: inventoryv1.LossCode_LOSS_CODE_DRAIN, Mass: lb("0.1"), Reason: "stayed in the drained drum",
			})
			return err
		},
		"Ship": func(ctx context.Context, barrel string) error {
			_, err := f.wh.Ship(ctx, &inventoryv1.ShipRequest{
				RequestId: request(), Customer: "North Mill Bakery", RecallContact: "555 0100", Carrier: "Valley Freight", CarrierAddress: "12 Depot Road, Lower Valley", CarrierTelephone: "555 0160", BulkLines: []*inventoryv1.BulkLine{{Place: barrel, Mass: lb("0.1")}},
			})
			return err
		},
	}
}

const (
	reads    = "changes nothing"
	noBarrel = "names no barrel; what came out of one is held by a hold of its own"
	records  = "writes down what is so and moves no honey"
)

// leavesBarrels says of every other RPC why it may be called whatever is held.
var leavesBarrels = map[string]string{
	"GetStockItem": reads, "ListStock": reads, "SummarizeStock": reads, "ListHolds": reads, "ListMovements": reads, "PlanBlend": reads,
	"ExplainBlendChoice": reads, "CheckBlendSwap": reads, "ListTanks": reads, "ListLabels": reads, "GetCharge": reads, "ListCharges": reads,
	"GetHeat": reads, "GetPackLot": reads, "ListPackLots": reads, "ListNetContentChecks": reads, "GetShipment": reads, "ListShipments": reads, "Trace": reads,
	"ListLineClearances": reads, "ListLineChecks": reads, "GetPallet": reads, "ListPallets": reads, "ListBalances": reads,
	"ListSideEntries": reads, "SummarizeSideGoods": reads, "RecordSideEntry": records, "BuildPallet": noBarrel, "BreakPallet": noBarrel, "RecordLineClearance": records, "CheckLine": records,
	"GetMassBalance": reads, "ListTemperatures": reads, "ListRecallDrills": reads, "ListTraceEvents": reads, "ListCycleCounts": reads,
	"CreateTank": noBarrel, "CreateLabel": noBarrel, "ApproveLabel": noBarrel, "OpenCharge": noBarrel, "CorrectHeel": noBarrel, "TransferCharge": noBarrel,
	"CloseCharge": noBarrel, "StartPackLot": noBarrel, "DrawPackLot": noBarrel, "ReturnRework": noBarrel, "ClosePackLot": noBarrel,
	"CheckNetContent": noBarrel, "ReleaseNetContentCheck": noBarrel,
	"PlaceHold": "is the hold", "ReleaseHold": "is its end, by another person",
	"RecordTemperatures": records, "AllowHeat": records, "ListHeatAllowances": reads, "StartRecallDrill": records, "FinishRecallDrill": records, "RecordCycleCount": records,
	"RecordCustomer": records, "PlaceOrder": records, "CancelOrder": records, "RecordSale": records, "ListCustomers": reads, "GetOrder": reads, "ListOrders": reads,
	"ListSales": reads, "GetReturn": reads, "ListReturns": reads, "ReceiveReturn": "brings honey into the house", "DecideReturn": "takes what came back, which no hold is on",
	"GetWriteOff": reads, "ListWriteOffs": reads, "RequestWriteOff": records, "WithdrawWriteOff": records, "DecideWriteOff": "takes off the books what is not there, held or not", "RecordClaimTest": records, "ApproveClaim": records, "WithdrawClaim": records,
}

func TestEveryRPCIsKnownToLeaveHeldBarrelsAloneOrIsTried(t *testing.T) {
	t.Parallel()
	tried := usesABarrel(&floor{}, "")
	served := map[string]bool{}
	protoregistry.GlobalFiles.RangeFilesByPackage("barrelhead.inventory.v1", func(file protoreflect.FileDescriptor) bool {
		for i := range file.Services().Len() {
			methods := file.Services().Get(i).Methods()
			for n := range methods.Len() {
				served[string(methods.Get(n).Name())] = true
			}
		}
		return true
	})
	require.Greater(t, len(served), 60)
	for name := range served {
		_, uses := tried[name]
		_, leaves := leavesBarrels[name]
		require.NotEqual(t, uses, leaves, "%s: say whether it can use a barrel, and try it", name)
	}
	for name := range leavesBarrels {
		require.True(t, served[name], "%s is no longer served", name)
	}
}

// store puts n barrels of 640 lb on hand, each held for a residue if held says so.
func (h *house) store(n int, held bool) []string {
	h.t.Helper()
	var barrels, holds [][]any
	var names []string
	for range n {
		id := uuid.New()
		names = append(names, "stock/"+id.String())
		barrels = append(barrels, []any{id, fixture.ID("ticket", 1), "members/M-0001", "FC-" + id.String()[:8], 640_000, "clover", 2026, fixture.Start, false})
		holds = append(holds, []any{uuid.New(), "stock", id, "RESIDUE", "screen pending", "users/lead1", fixture.Start})
	}
	_, err := h.db.Pool().CopyFrom(h.t.Context(), pgx.Identifier{"barrel"},
		[]string{"barrel", "ticket", "member", "drum_tag", "net", "variety", "crop_year", "receive_date", "withdrawn"}, pgx.CopyFromRows(barrels))
	require.NoError(h.t, err)
	if held {
		_, err = h.db.Pool().CopyFrom(h.t.Context(), pgx.Identifier{"hold"},
			[]string{"hold", "kind", "barrel", "code", "reason", "placer", "place_time"}, pgx.CopyFromRows(holds))
		require.NoError(h.t, err)
	}
	return names
}

func isHeld(err error) bool {
	return apierr.Parse(err).Reason == "ON_HOLD"
}

func TestTenThousandHeldBarrelsStayWhereTheyAre(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	charge := f.charge("T1", "0").GetName()
	barrels := f.store(10_000, true)
	var ways []func(context.Context, string) error
	for _, way := range usesABarrel(f, charge) {
		ways = append(ways, way)
	}
	var wg sync.WaitGroup
	faults := make(chan error, len(barrels))
	for worker := range 8 {
		wg.Go(func() {
			r := rand.New(rand.NewPCG(5, uint64(worker)))
			for n := worker; n < len(barrels); n += 8 {
				if err := ways[r.IntN(len(ways))](t.Context(), barrels[n]); !isHeld(err) {
					faults <- fmt.Errorf("%s: %w", barrels[n], err)
				}
			}
		})
	}
	wg.Wait()
	close(faults)
	for err := range faults {
		require.NoError(t, err, "was not refused for the hold")
	}
	for _, table := range []string{"movement", "transfer", "split", "shipment"} {
		var n int
		require.NoError(t, f.db.Pool().QueryRow(t.Context(), "SELECT count(*) FROM "+table).Scan(&n))
		require.Zero(t, n, table)
	}
}

// While one person holds a barrel others go on using it. Whatever began after the hold was answered is refused.
func TestNoUseBegunAfterAHoldGetsThrough(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	charge := f.charge("T1", "0").GetName()
	ways := usesABarrel(f, charge)
	var used atomic.Int64
	for _, barrel := range f.store(60, false) {
		var held atomic.Bool
		var wg sync.WaitGroup
		for _, way := range ways {
			wg.Go(func() {
				for {
					late := held.Load()
					err := way(t.Context(), barrel)
					if err == nil {
						used.Add(1)
					}
					if late {
						if !isHeld(err) {
							t.Errorf("%s was used after it was held: %v", barrel, err)
						}
						return
					}
				}
			})
		}
		_, err := f.wh.PlaceHold(t.Context(), &inventoryv1.PlaceHoldRequest{RequestId: request(), StockItem: barrel, Code: inventoryv1.HoldCode_HOLD_CODE_RESIDUE, Reason: "screen pending"})
		require.NoError(t, err)
		held.Store(true)
		wg.Wait()
		if used.Load() > 0 {
			holdsNow := f.openHolds()
			if h, is := holdsNow[charge]; is {
				_, err := f.office.ReleaseHold(t.Context(), &inventoryv1.ReleaseHoldRequest{RequestId: request(), Name: h.GetName(), Reason: "next round"})
				require.NoError(t, err)
			}
		}
	}
	require.Positive(t, used.Load(), "some were used before, or nothing was tried")
	f.balanced()
}
