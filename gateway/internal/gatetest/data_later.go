package gatetest

import (
	"context"
	"fmt"
	"strings"
	"time"

	"google.golang.org/grpc"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
)

// Names of the invented season that tests ask for.
const (
	ControlID    = "CH-2026-1"
	ControlRunID = "c0a10000-0000-4000-8000-000000000007"
	PoolID       = "90010000-0000-4000-8000-000000000001"
	ProgressID   = "9b000000-0000-4000-8000-000000000002"
	OtherPoolID  = "30000000-0000-4000-8000-000000000002"
	ClosedID     = "40000000-0000-4000-8000-000000000003"
	RunID        = "40000000-0000-4000-8000-000000000001"
	ApprovedID   = "40000000-0000-4000-8000-000000000002"
	LotCode      = "FC26257L1A"
)

// Fingerprint of every run of the season.
var Fingerprint = strings.Repeat("9f3c", 16)

func controls() []*gradingv1.Control {
	return []*gradingv1.Control{
		{
			Name: "controls/" + ControlID, Factor: gradingv1.Factor_FACTOR_MOISTURE, Material: "control honey, clover", Target: "17.5", Sigma: "0.07",
			WarningLow: "17.36", WarningHigh: "17.64", ActionLow: "17.29", ActionHigh: "17.71", Basis: "known by 24 runs",
		},
		{
			Name: "controls/CC-2026-1", Factor: gradingv1.Factor_FACTOR_COLOR, Material: "glycerol standard", Target: "46", Sigma: "1", WarningLow: "44", WarningHigh: "48",
			ActionLow: "43", ActionHigh: "49", Basis: "certificate GL-114", ClosedBy: "controlRuns/" + ControlRunID,
		},
	}
}

func controlRuns(control string) []*gradingv1.ControlRun {
	values := []string{"17.52", "17.49", "17.55", "17.47", "17.66", "17.51", "17.50", "17.44", "17.53", "17.48"}
	if control != "controls/"+ControlID {
		values = []string{"49.6", "47.1", "46.2", "45.8", "46.4"}
	}
	var runs []*gradingv1.ControlRun
	for i, value := range values {
		verdict := gradingv1.ControlVerdict_CONTROL_VERDICT_PASS
		if value == "17.66" {
			verdict = gradingv1.ControlVerdict_CONTROL_VERDICT_WARNING
		}
		if value == "49.6" {
			verdict = gradingv1.ControlVerdict_CONTROL_VERDICT_FAIL
		}
		runs = append(runs, &gradingv1.ControlRun{
			Name: fmt.Sprintf("controlRuns/c0a10000-0000-4000-8000-%012d", i), Control: control, Value: value, Verdict: verdict, Analyst: "users/lab1",
			RunTime: at(time.Duration(i*4) * time.Hour), Explanation: "control " + value + " against its target: " + verdict.String()[len("CONTROL_VERDICT_"):],
		})
	}
	return runs
}

// ListControls and its neighbours answer for the control charts.
func (h *House) ListControls(ctx context.Context, r *gradingv1.ListControlsRequest) (*gradingv1.ListControlsResponse, error) {
	return &gradingv1.ListControlsResponse{Controls: controls()}, h.note(ctx, r)
}

func (h *House) ListControlRuns(ctx context.Context, r *gradingv1.ListControlRunsRequest) (*gradingv1.ListControlRunsResponse, error) {
	return &gradingv1.ListControlRunsResponse{Runs: controlRuns(r.GetControl())}, h.note(ctx, r)
}

func (h *House) RecordControlRun(ctx context.Context, r *gradingv1.RecordControlRunRequest) (*gradingv1.ControlRun, error) {
	return controlRuns(r.GetControl())[0], h.note(ctx, r)
}

func (h *House) ConfirmResults(ctx context.Context, r *gradingv1.ConfirmResultsRequest) (*gradingv1.DoubtedResults, error) {
	return &gradingv1.DoubtedResults{ControlRun: r.GetControlRun()}, h.note(ctx, r)
}

func (h *House) VerifyCertificate(ctx context.Context, r *gradingv1.VerifyCertificateRequest) (*gradingv1.CertificateVerification, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	if lastPart(r.GetName()) != CertificateID {
		return nil, apierr.NotFound(r.GetName())
	}
	return &gradingv1.CertificateVerification{
		Certificate: r.GetName(), Authenticity: gradingv1.Authenticity_AUTHENTICITY_GENUINE, Explanation: "the record is what the laboratory signed on 13 Sep 2026", Number: "G-2026-000412",
		Variety: "basswood", CropYear: 2026, Grade: "C", ColorClass: "WHITE", MoisturePercent: "19.2", Standard: "standards/us-extracted-1985", IssueTime: at(24 * time.Hour),
		Payload: `{"number":"G-2026-000412","grade":"C","moisture_percent":"19.2"}`,
	}, nil
}

func (h *House) Trace(ctx context.Context, r *inventoryv1.TraceRequest) (*inventoryv1.TraceResponse, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	if lastPart(r.GetName()) != LotCode && r.GetName() != "charges/"+ChargeCode && r.GetName() != "stock/"+StockID {
		return nil, apierr.NotFound(r.GetName())
	}
	return &inventoryv1.TraceResponse{
		Name: r.GetName(), Total: lb("1283.5"), AccountedPercent: "100.0", Members: 2, ElapsedMilliseconds: 13, Transfers: transfers(),
		Sources: []*inventoryv1.TraceSource{
			{StockItem: "stock/" + StockID, Mass: lb("640.0"), Member: Juniper, Claims: stockClaims(), Ticket: "tickets/" + CloseTicketID}, {StockItem: secondBox, Mass: lb("643.5"), Member: Sedge, Ticket: "tickets/" + SedgeTicketID},
		},
		Customers: tracedCustomers(), Elsewhere: []*inventoryv1.TraceWhere{{Name: "packLots/" + LotID, Mass: lb("231.5")}, {Name: "returns/" + ReturnID, Mass: lb("140.0")}, {Name: "losses/FILTER", Mass: lb("12.0")}},
		Places: tracedPlaces(r.GetName()),
	}, nil
}

// tracedCustomers are one on record, and one of before whose shipment begins like that of the first and says nobody to call.
func tracedCustomers() []*inventoryv1.TraceCustomer {
	return []*inventoryv1.TraceCustomer{
		{
			Customer: "Market Hall Larder", Shipment: "shipments/5a100000-0000-4000-8000-000000000014", Mass: lb("891.5"), RecallContact: "quality desk, 555 0199 day and night",
			Address: "4 Mill Lane, Upper Valley", Carrier: "Own lorry", CarrierAddress: "1 Creamery Lane", CarrierTelephone: "555 0111", ShipTime: at(20 * time.Hour),
			Received: []*inventoryv1.TraceReceived{{Place: "packLots/" + LotID, Jars: 892}}, Returned: lb("140.0"),
		},
		{
			Customer: "Harvest Fair", Shipment: "shipments/5a100000-0000-4000-8000-000000000015", Mass: lb("8.5"), Carrier: "Valley Freight", ShipTime: at(19 * time.Hour),
			Received: []*inventoryv1.TraceReceived{{Place: "charges/" + ChargeID, Containers: "pail 3, seal 4411"}},
		},
	}
}

func tracedPlaces(asked string) []*inventoryv1.TracePlace {
	places := []*inventoryv1.TracePlace{
		{Name: "charges/" + ChargeID, KnownAs: ChargeCode},
		{Name: "charges/" + EmptyID, KnownAs: "T2-26-001"},
		{Name: "packLots/" + LotID, KnownAs: LotCode, BestByDate: BestBy},
		{Name: "stock/" + StockID, KnownAs: "FC-04417"},
		{Name: secondBox, KnownAs: "FC-04418"},
	}
	if asked == "packLots/"+LotCode {
		places = append(places, &inventoryv1.TracePlace{Name: asked, KnownAs: LotCode, BestByDate: BestBy})
	}
	return places
}

func (h *House) GetMassBalance(ctx context.Context, r *inventoryv1.GetMassBalanceRequest) (*inventoryv1.MassBalance, error) {
	return &inventoryv1.MassBalance{
		Received: lb("493318.5"), Barrels: lb("401200.0"), Tanks: lb("12018.5"), Lots: lb("30100.0"), Shipped: lb("48860.0"), Returned: lb("140.0"),
		Losses:     []*inventoryv1.LossTotal{{Code: inventoryv1.LossCode_LOSS_CODE_DRAIN, Mass: lb("700.0")}, {Code: inventoryv1.LossCode_LOSS_CODE_FILTER, Mass: lb("300.0")}},
		Difference: lb("0.0"), Unexplained: lb("0.0"), AskedWriteOff: lb("15.5"),
	}, h.note(ctx, r)
}

func pools() []*settlementv1.Pool {
	next := &settlementv1.Pool{
		Name: "pools/" + OtherPoolID, CropYear: 2027, Title: "Table honey 2027", State: settlementv1.PoolState_POOL_STATE_OPEN, Proceeds: usd("0.00"), Expenses: usd("0.00"),
		Distributable: usd("0.00"), Opener: "users/office1", OpenTime: at(100 * time.Hour),
	}
	return []*settlementv1.Pool{{
		Name: "pools/" + PoolID, CropYear: 2026, Title: "Table honey 2026", State: settlementv1.PoolState_POOL_STATE_OPEN, Proceeds: usd("612480.00"), Expenses: usd("98212.40"),
		Distributable: usd("514267.60"), Opener: "users/office1", OpenTime: at(4000 * time.Hour),
		Differentials: []*settlementv1.Differential{{ColorClass: "WHITE", Grade: "A", Amount: perLB("0.00")}, {ColorClass: "AMBER", Grade: "B", Amount: perLB("-0.12")}},
	}, next}
}

func runs() []*settlementv1.Run {
	run := func(id, number string, state settlementv1.RunState) *settlementv1.Run {
		return &settlementv1.Run{
			Name: "runs/" + id, Number: number, Pool: "pools/" + PoolID, State: state, Fingerprint: Fingerprint, BasePrice: perLB("1.41233"), Payable: lb("364100.0"),
			Distributable: usd("514267.60"), ToMembers: usd("514265.11"), Residual: usd("2.49"), CreditedBefore: usd("402118.30"), Due: usd("112390.02"), Receivable: usd("243.21"),
			Members: 44, Barrels: 569, BarrelsLeftOut: 3, Preparer: "users/office1", PrepareTime: at(3 * time.Hour),
			Headline: "Approving pays $112,390.02 to 44 members. Fingerprint 9f3c9f3c…; any change cancels the approval.",
			Classes: []*settlementv1.RunClass{
				{Variety: "clover", ColorClass: "WHITE", Grade: "A", Price: perLB("1.41233"), Barrels: 329, Payable: lb("211218.0")},
				{ColorClass: "LIGHT_AMBER", Grade: "A", Price: perLB("1.38000"), Barrels: 141, Payable: lb("90522.0")},
				{ColorClass: "AMBER", Grade: "B", Price: perLB("1.29233"), Barrels: 99, Payable: lb("62360.0")},
			},
		}
	}
	approved := run(ApprovedID, "R-2026-02", settlementv1.RunState_RUN_STATE_APPROVED)
	approved.Votes = []*settlementv1.RunVote{{Director: "users/board1", Minutes: "Board 2027-08-02 no. 1", VoteTime: at(time.Hour)}}
	return []*settlementv1.Run{approved, run(RunID, "R-2026-01", settlementv1.RunState_RUN_STATE_PREPARED)}
}

// closedRun is that of last year's pool.
func closedRun() *settlementv1.Run {
	r := runs()[0]
	r.Name, r.Number, r.State, r.Releaser, r.ReleaseTime = "runs/"+ClosedID, "R-2025-03", settlementv1.RunState_RUN_STATE_RELEASED, "users/treasurer1", at(9000*time.Hour)
	return r
}

// CarryOver and the progress payments answer for a pool's money before it is closed.
func (h *House) CarryOver(ctx context.Context, r *settlementv1.CarryOverRequest) (*settlementv1.CarryOverResponse, error) {
	return &settlementv1.CarryOverResponse{}, h.note(ctx, r)
}

func (h *House) ProposeProgress(ctx context.Context, r *settlementv1.ProposeProgressRequest) (*settlementv1.ProgressPayment, error) {
	return progress()[1], h.note(ctx, r)
}

func (h *House) AdoptProgress(ctx context.Context, r *settlementv1.AdoptProgressRequest) (*settlementv1.ProgressPayment, error) {
	return progress()[0], h.note(ctx, r)
}

func progress() []*settlementv1.ProgressPayment {
	one := func(id, rate, amount string) *settlementv1.ProgressPayment {
		return &settlementv1.ProgressPayment{
			Name: "progressPayments/" + id, Pool: "pools/" + PoolID, Rate: perLB(rate), Payable: lb("364100.0"), Amount: usd(amount), Barrels: 569,
			Distributable: usd("514267.60"), CreditedBefore: usd("402118.30"), Proposer: "users/office1", ProposeTime: at(50 * time.Hour),
		}
	}
	paid := one("9b000000-0000-4000-8000-000000000001", "0.10", "36410.00")
	paid.Resolution, paid.Adopter, paid.AdoptTime = "Board 2027-01-14 no. 2", "users/board1", at(40*time.Hour)
	return []*settlementv1.ProgressPayment{paid, one(ProgressID, "0.05", "18205.00")}
}

func (h *House) ListPools(ctx context.Context, r *settlementv1.ListPoolsRequest) (*settlementv1.ListPoolsResponse, error) {
	return &settlementv1.ListPoolsResponse{Pools: pools()}, h.note(ctx, r)
}

func (h *House) OpenPool(ctx context.Context, r *settlementv1.OpenPoolRequest) (*settlementv1.Pool, error) {
	return pools()[0], h.note(ctx, r)
}

func (h *House) GetPool(ctx context.Context, r *settlementv1.GetPoolRequest) (*settlementv1.Pool, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	p, err := find(ctx, pools(), r.GetName(), nil)
	if err == nil {
		p.ProgressPayments = progress()
	}
	return p, err
}

func (h *House) RecordPoolEntry(ctx context.Context, r *settlementv1.RecordPoolEntryRequest) (*settlementv1.PoolEntry, error) {
	return &settlementv1.PoolEntry{Name: "poolEntries/1"}, h.note(ctx, r)
}

func (h *House) ListPoolEntries(ctx context.Context, r *settlementv1.ListPoolEntriesRequest) (*settlementv1.ListPoolEntriesResponse, error) {
	return &settlementv1.ListPoolEntriesResponse{Entries: []*settlementv1.PoolEntry{
		{Kind: settlementv1.PoolEntryKind_POOL_ENTRY_KIND_PROCEEDS, Amount: usd("612480.00"), Description: "Sales, October to May", Document: "Ledger 2027-05", EntryDate: "2027-05-31", Recorder: "users/office1"},
		{Kind: settlementv1.PoolEntryKind_POOL_ENTRY_KIND_EXPENSE, Amount: usd("98212.40"), Description: "Packing, freight and interest", Document: "Ledger 2027-05", EntryDate: "2027-05-31", Recorder: "users/office1"},
	}}, h.note(ctx, r)
}

func (h *House) PrepareRun(ctx context.Context, r *settlementv1.PrepareRunRequest) (*settlementv1.Run, error) {
	return runs()[1], h.note(ctx, r)
}

func (h *House) GetRun(ctx context.Context, r *settlementv1.GetRunRequest) (*settlementv1.Run, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	return find(ctx, append(runs(), closedRun()), r.GetName(), nil)
}

func (h *House) ListRuns(ctx context.Context, r *settlementv1.ListRunsRequest) (*settlementv1.ListRunsResponse, error) {
	return &settlementv1.ListRunsResponse{Runs: runs()}, h.note(ctx, r)
}

func (h *House) ApproveRun(ctx context.Context, r *settlementv1.ApproveRunRequest) (*settlementv1.Run, error) {
	return runs()[0], h.note(ctx, r)
}

func (h *House) AbstainFromRun(ctx context.Context, r *settlementv1.AbstainFromRunRequest) (*settlementv1.Run, error) {
	return runs()[0], h.note(ctx, r)
}

func (h *House) ReleaseRun(ctx context.Context, r *settlementv1.ReleaseRunRequest) (*settlementv1.Run, error) {
	return runs()[0], h.note(ctx, r)
}

// RenderStatement answers a file for every member that may see it.
func (h *House) RenderStatement(ctx context.Context, r *settlementv1.RenderStatementRequest) (*settlementv1.StatementDocument, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	if !access.SeesMember(ctx, r.GetMember()) {
		return nil, apierr.NotFound(r.GetMember())
	}
	return &settlementv1.StatementDocument{
		Content: []byte("%PDF-1.7 of " + r.GetMember()), ContentType: "application/pdf", FileName: fmt.Sprintf("statement-%s-%d.pdf", lastPart(r.GetMember()), r.GetCropYear()),
	}, nil
}

// ExportJournal answers in two pieces, and breaks after the first when it was told to refuse the second.
func (h *House) ExportJournal(r *settlementv1.ExportJournalRequest, stream grpc.ServerStreamingServer[settlementv1.ExportJournalResponse]) error {
	for _, piece := range []string{"2026-09-07 advance\n", "    members:M-0012  -683.03 USD\n"} {
		if err := h.note(stream.Context(), r); err != nil {
			return err
		}
		if err := stream.Send(&settlementv1.ExportJournalResponse{Text: piece}); err != nil {
			return err
		}
	}
	return nil
}
