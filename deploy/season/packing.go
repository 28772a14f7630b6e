package season

import (
	"context"
	"fmt"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

const (
	palletJars = 1_200
	// A finished lot is judged by as many jars as the sampling plan of Handbook 133 asks for lots of 251 to 3,200.
	sampleJars = 24
)

// pack fills the tank and runs the line, once for every run.
func (w *warehouse) pack(ctx context.Context) error {
	for n, r := range runs {
		if err := w.charge(ctx, n); err != nil {
			return err
		}
		if err := w.runLine(ctx, n, r); err != nil {
			return err
		}
	}
	return nil
}

// runLine turns some of a charge into jars on pallets, from the clearance of the line to the check of the finished lot.
func (w *warehouse) runLine(ctx context.Context, n int, r run) error {
	var lot inventoryv1.PackLot
	if err := w.do(ctx,
		deed{"line", "lineClearances", &inventoryv1.RecordLineClearanceRequest{
			RequestId: w.id("clear", n), Line: line, LabelsGone: true, JarsGone: true, GlassClear: true, Cleaning: "washed and flushed",
		}, &inventoryv1.LineClearance{}},
		deed{"line", "packLots", &inventoryv1.StartPackLotRequest{RequestId: w.id("lot", n), Charge: w.charges[n], Label: label, Line: line}, &lot},
	); err != nil {
		return err
	}
	name := lot.GetName()
	deeds := []deed{
		{"line", name + ":draw", &inventoryv1.DrawPackLotRequest{RequestId: w.id("draw", n), Name: name, Charge: w.charges[n], Mass: pounds(r.draw)}, &lot},
		{"line", name + "/lineChecks", &inventoryv1.CheckLineRequest{
			RequestId: w.id("line check", n), PackLot: name, Unit: inventoryv1.NetUnit_NET_UNIT_G, NetWeights: grams(5),
		}, &inventoryv1.LineCheck{}},
	}
	for _, l := range r.losses {
		deeds = append(deeds, deed{"line", "losses", &inventoryv1.RecordLossRequest{
			RequestId: w.id("loss", n, l.code), From: name, Code: l.code, Mass: pounds(l.tenths), Reason: l.reason,
		}, &inventoryv1.Transfer{}})
	}
	deeds = append(deeds,
		deed{"line", name + ":close", &inventoryv1.ClosePackLotRequest{
			RequestId: w.id("close lot", n), Name: name, Jars: r.jars, MeanNet: &typev1.Mass{Value: "1.004", Unit: "LB"},
		}, &lot},
		deed{"line", name + "/netContentChecks", &inventoryv1.CheckNetContentRequest{
			RequestId: w.id("net content", n), PackLot: name, Unit: inventoryv1.NetUnit_NET_UNIT_G, Declared: "454", NetWeights: grams(sampleJars),
		}, &inventoryv1.NetContentCheck{}},
	)
	if err := w.do(ctx, deeds...); err != nil {
		return err
	}
	w.lots = append(w.lots, &lot)
	for p := range r.pallets {
		var pallet inventoryv1.Pallet
		if err := w.do(ctx, deed{"line", "pallets", &inventoryv1.BuildPalletRequest{
			RequestId: w.id("pallet", n, p), Lines: []*inventoryv1.PalletLine{{PackLot: name, Jars: palletJars}},
		}, &pallet}); err != nil {
			return err
		}
		w.pallets = append(w.pallets, pallet.GetName())
	}
	return nil
}

// last is the lot that holds honey of both charges: it is the one that reaches every customer, and that is recalled to see whether it can be.
func (w *warehouse) last() *inventoryv1.PackLot { return w.lots[len(w.lots)-1] }

// grams are net weights of jars off the line; over every ten of them they average 1.004 lb, which is 455.4 g.
func grams(jars int) []string {
	out := make([]string, 0, jars)
	for i := range jars {
		out = append(out, fmt.Sprint([]int{455, 456, 454, 457, 455, 456, 455, 455, 456, 455}[i%10]))
	}
	return out
}
