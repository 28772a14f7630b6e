package rpc_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/store"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/quantity"
)

// shift is people doing whatever comes to mind, in a house whose connections are cut under them.
type shift struct {
	*floor
	asks, decides         inventoryv1.WriteOffServiceClient
	mu                    sync.Mutex
	barrels, charges, run []string
	asked                 []string // to be written off
	shipments, returns    []string
}

func (s *shift) any(r *rand.Rand, from *[]string) string {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(*from) == 0 {
		return ""
	}
	return (*from)[r.IntN(len(*from))]
}

func (s *shift) note(into *[]string, names ...string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	*into = append(*into, names...)
}

// act does one thing, again with the same request id while nobody can tell whether it was done. What is refused is refused.
func (s *shift) act(t *testing.T, r *rand.Rand) {
	once := s.deed(r)
	for {
		err := once(t.Context())
		switch code := apierr.Parse(err).Code; code { //nolint:exhaustive // everything else is an answer
		case codes.Unavailable, codes.Internal, codes.Aborted, codes.Unknown, codes.DeadlineExceeded:
			<-time.After(5 * time.Millisecond)
			continue
		}
		return
	}
}

func (s *shift) deed(r *rand.Rand) func(context.Context) error {
	id, mass := request(), lb(fmt.Sprintf("%d.%d", 1+r.IntN(200), r.IntN(10)))
	barrel, charge, other, run := s.any(r, &s.barrels), s.any(r, &s.charges), s.any(r, &s.charges), s.any(r, &s.run)
	switch r.IntN(21) {
	case 0:
		req := &inventoryv1.OpenChargeRequest{RequestId: id, Tank: fmt.Sprintf("tanks/T%d", 1+r.IntN(2)), Heel: lb(fmt.Sprint(r.IntN(3) * 20))}
		return func(ctx context.Context) error {
			c, err := s.wh.OpenCharge(ctx, req)
			if err == nil {
				s.note(&s.charges, c.GetName())
			}
			return err
		}
	case 1:
		req := &inventoryv1.SplitBarrelRequest{RequestId: id, Name: barrel, Parts: []*inventoryv1.SplitPart{{DrumTag: "PAIL-A", Net: mass}, {DrumTag: "PAIL-B", Net: lb("5.0")}}}
		return func(ctx context.Context) error {
			made, err := s.wh.SplitBarrel(ctx, req)
			if err == nil {
				s.note(&s.barrels, made.GetStockItems()...)
			}
			return err
		}
	case 2:
		req := &inventoryv1.StartPackLotRequest{RequestId: id, Charge: charge, Label: "labels/HONEY", Line: fmt.Sprintf("L%d", r.IntN(1_000_000))}
		return func(ctx context.Context) error {
			lot, err := s.line.StartPackLot(ctx, req)
			if err == nil {
				s.note(&s.run, lot.GetName())
			}
			return err
		}
	case 3, 4:
		return call(s.line2.DrawPackLot, &inventoryv1.DrawPackLotRequest{RequestId: id, Name: run, Charge: charge, Mass: mass, ConfirmFurtherCharge: true, Reason: "the tank ran dry"})
	case 5:
		return call(s.wh.TransferCharge, &inventoryv1.TransferChargeRequest{RequestId: id, Name: charge, ToCharge: other, Mass: mass})
	case 6:
		return call(s.line.ReturnRework, &inventoryv1.ReturnReworkRequest{RequestId: id, Name: run, Charge: charge, Mass: mass})
	case 7:
		from := []string{barrel, charge, run, run}[r.IntN(4)]
		if r.IntN(3) == 0 {
			return call(s.wh.RecordLoss, &inventoryv1.RecordLossRequest{RequestId: id, From: run, Code: inventoryv1.LossCode_LOSS_CODE_BROKEN, Jars: 1 + r.Int64N(5), Reason: "broken"})
		}
		return call(s.wh.RecordLoss, &inventoryv1.RecordLossRequest{RequestId: id, From: from, Code: inventoryv1.LossCode_LOSS_CODE_SPILL, Mass: lb("0.7"), Reason: "spilt"})
	case 8:
		return call(s.wh.CorrectHeel, &inventoryv1.CorrectHeelRequest{RequestId: id, Name: charge, Mass: lb("3.3"), Reason: "dipped again"})
	case 9:
		return s.closing(r, id, run)
	case 10:
		return s.ship(r, id, run, barrel)
	case 11, 12:
		req := &inventoryv1.RequestWriteOffRequest{RequestId: id, From: []string{barrel, barrel, barrel, charge, run}[r.IntN(5)], Mass: lb("2.3"), Reason: "looked for twice"}
		if r.IntN(3) == 0 {
			req.From, req.Mass, req.Jars = run, nil, 1+r.Int64N(5)
		}
		return func(ctx context.Context) error {
			o, err := s.asks.RequestWriteOff(ctx, req)
			if err == nil {
				s.note(&s.asked, o.GetName())
			}
			return err
		}
	case 13:
		if r.IntN(5) == 0 {
			return call(s.asks.WithdrawWriteOff, &inventoryv1.WithdrawWriteOffRequest{RequestId: id, Name: s.any(r, &s.asked), Reason: "it turned up"})
		}
		decision := []inventoryv1.WriteOffState{approved, approved, declined}[r.IntN(3)]
		return call(s.decides.DecideWriteOff, &inventoryv1.DecideWriteOffRequest{RequestId: id, Name: s.any(r, &s.asked), Decision: decision, Reason: "looked again"})
	case 14, 15, 16:
		return s.back(r, id)
	case 17, 18:
		req := &inventoryv1.DecideReturnRequest{RequestId: id, Name: s.any(r, &s.returns), Outcome: inventoryv1.ReturnOutcome(1 + r.IntN(2)), Jars: r.Int64N(4), Reason: "looked at"}
		if r.IntN(3) == 0 {
			req.Jars, req.Mass, req.Charge = 0, lb("2.2"), charge
		}
		return call(s.sales("office1", office).DecideReturn, req)
	default:
		return call(s.wh.FillCharge, &inventoryv1.FillChargeRequest{RequestId: id, Name: charge, StockItem: barrel, Mass: mass, Drained: r.IntN(5) == 0})
	}
}

// ship sends jars, or part of a barrel, or both.
func (s *shift) ship(r *rand.Rand, id, run, barrel string) func(context.Context) error {
	req := &inventoryv1.ShipRequest{RequestId: id, Customer: "North Mill Bakery", RecallContact: "555 0100", Carrier: "Valley Freight", CarrierAddress: "12 Depot Road, Lower Valley", CarrierTelephone: "555 0160"}
	if r.IntN(2) == 0 {
		req.Lines = []*inventoryv1.ShipmentLine{{PackLot: run, Jars: 1 + r.Int64N(9)}}
	}
	if len(req.GetLines()) == 0 || r.IntN(2) == 0 {
		req.BulkLines = []*inventoryv1.BulkLine{{Place: barrel, Mass: lb("11.1")}}
	}
	return func(ctx context.Context) error {
		sent, err := s.wh.Ship(ctx, req)
		for range sent.GetLines() {
			s.note(&s.shipments, sent.GetName()+" "+run)
		}
		for range sent.GetBulkLines() {
			s.note(&s.shipments, sent.GetName()+" "+barrel)
		}
		return err
	}
}

// back brings back some of what left: jars of a lot, or part of a barrel.
func (s *shift) back(r *rand.Rand, id string) func(context.Context) error {
	shipment, place, _ := strings.Cut(s.any(r, &s.shipments), " ")
	req := &inventoryv1.ReceiveReturnRequest{RequestId: id, Shipment: shipment, Place: place, Reason: "recalled"}
	if strings.HasPrefix(place, "packLots/") {
		req.Jars = r.Int64N(4)
	} else if r.IntN(2) == 0 {
		req.Mass = lb("4.4")
	}
	return func(ctx context.Context) error {
		made, err := s.sales("line1", line).ReceiveReturn(ctx, req)
		for _, one := range made.GetReturns() {
			s.note(&s.returns, one.GetName())
		}
		return err
	}
}

// closing counts the jars of a run so that they weigh what was drawn.
func (s *shift) closing(r *rand.Rand, id, run string) func(context.Context) error {
	return func(ctx context.Context) error {
		lot, err := s.line.GetPackLot(ctx, &inventoryv1.GetPackLotRequest{Name: run})
		if err != nil {
			return err
		}
		content, err := quantity.ParseMass(lot.GetContent().GetValue())
		if err != nil {
			return fmt.Errorf("content: %w", err)
		}
		jars := max(int64(content)/1000, 1) + r.Int64N(2)
		_, err = s.line.ClosePackLot(ctx, &inventoryv1.ClosePackLotRequest{RequestId: id, Name: run, Jars: jars, MeanNet: lb((content / quantity.Mass(jars)).String())})
		return err
	}
}

func call[Q, A, O any](method func(context.Context, Q, ...O) (A, error), req Q) func(context.Context) error {
	return func(ctx context.Context) error {
		_, err := method(ctx, req)
		return err
	}
}

// Honey is never made or lost: for every barrel, tank, lot and the whole house pounds in are pounds out, lost and on hand, and the
// ledger in memory answers what the records say, whatever was cut off in the middle.
func TestPoundsAddUpWhateverHappensAndWhateverCrashes(t *testing.T) {
	t.Parallel()
	for seed := range uint64(2) {
		f := openFloor(t)
		s := &shift{floor: f, asks: f.offs("wh1", warehouse), decides: f.offs("office1", office)}
		for n := 1; n <= 12; n++ {
			s.barrels = append(s.barrels, item(n))
		}
		s.charges = []string{f.charge("T1", "0").GetName(), f.charge("T2", "0").GetName()}
		s.shipments = []string{f.sent("", 0, &inventoryv1.BulkLine{Place: item(12), Mass: lb("300.0")}).GetName() + " " + item(12)}
		// One is there from the start: by chance every later one may be rightly refused.
		missing, err := s.asks.RequestWriteOff(t.Context(), &inventoryv1.RequestWriteOffRequest{RequestId: request(), From: item(11), Mass: lb("2.3"), Reason: "looked for twice"})
		require.NoError(t, err)
		s.asked = []string{missing.GetName()}
		for range 3 {
			var wg sync.WaitGroup
			for worker := range uint64(3) {
				wg.Go(func() {
					r := rand.New(rand.NewPCG(seed, worker))
					for range 25 {
						s.act(t, r)
					}
				})
			}
			wg.Go(func() {
				for range 6 {
					<-time.After(20 * time.Millisecond)
					_, _ = f.db.Pool().Exec(t.Context(), // the connection that asks may be cut as well
						`SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database() AND usename = current_user AND pid <> pg_backend_pid()`)
				}
			})
			wg.Wait()
			s.reconcile(t)
		}
		var moved, cut int
		require.NoError(t, f.db.Pool().QueryRow(t.Context(), `SELECT count(*) FROM transfer`).Scan(&moved))
		require.NoError(t, f.db.Pool().QueryRow(t.Context(), `SELECT sessions_killed FROM pg_stat_database WHERE datname = current_database()`).Scan(&cut))
		require.Greater(t, moved, 10, "they did something")
		require.Positive(t, cut)
		require.NotEmpty(t, s.returns, "some of what left came back")
	}
}

func (s *shift) reconcile(t *testing.T) {
	t.Helper()
	require.Eventually(t, func() bool { return s.db.Pool().Ping(t.Context()) == nil }, 10*time.Second, 10*time.Millisecond)
	require.Eventually(t, func() bool {
		b, err := s.office.GetMassBalance(t.Context(), &inventoryv1.GetMassBalanceRequest{})
		return err == nil && b.GetDifference().GetValue() == "0.0"
	}, 10*time.Second, 50*time.Millisecond, "the house")
	var wrong int
	require.NoError(t, s.db.Pool().QueryRow(t.Context(), `
		SELECT count(*) FROM (
			SELECT v.place FROM vessel v
			WHERE v.content <> coalesce((SELECT sum(mass) FROM transfer WHERE to_place = v.place), 0) - coalesce((SELECT sum(mass) FROM transfer WHERE from_place = v.place), 0)
			UNION ALL
			SELECT 'stock/' || p.barrel FROM standing p
			WHERE p.taken <> coalesce((SELECT sum(mass) FROM transfer WHERE from_place = 'stock/' || p.barrel), 0)
			UNION ALL
			SELECT 'stock/' || s.barrel FROM split s WHERE s.net <> coalesce((SELECT sum(mass) FROM transfer WHERE to_place = 'stock/' || s.barrel), 0)
			UNION ALL
			SELECT 'stock/' || h.barrel FROM holding h JOIN standing p USING (barrel) WHERE h.net < p.taken) wrong`).Scan(&wrong))
	require.Zero(t, wrong, "barrels, tanks and lots whose books do not agree with the ledger")
	require.NoError(t, s.db.Pool().QueryRow(t.Context(), `
		SELECT count(*) FROM (
			SELECT t.transfer FROM transfer t LEFT JOIN write_off_decision d USING (transfer) WHERE t.to_place = 'losses/UNEXPLAINED' AND d.transfer IS NULL
			UNION ALL
			SELECT o.write_off FROM write_off o JOIN write_off_decision d USING (write_off) JOIN transfer t USING (transfer)
			WHERE t.from_place <> o.place OR t.to_place <> 'losses/UNEXPLAINED' OR (o.jars = 0 AND t.mass <> o.mass) OR d.decider = o.asker) wrong`).Scan(&wrong))
	require.Zero(t, wrong, "nothing is written off but what was approved, by another, as it was asked for")
	delivered := map[lots.Place]quantity.Mass{}
	for n := 1; n <= 12; n++ {
		delivered[lots.Place(item(n))] = 640_000
	}
	for _, name := range slices.Concat(s.barrels, s.charges, s.run, s.returns) {
		trace, err := s.office.Trace(t.Context(), &inventoryv1.TraceRequest{Name: name})
		require.NoError(t, err)
		require.Equal(t, "100.0", trace.GetAccountedPercent(), name)
		transfers, err := store.Store{}.Ledger(t.Context(), s.db.Pool(), lots.Place(name), true)
		require.NoError(t, err)
		want, err := lots.Follow(lots.Place(name), delivered, transfers)
		require.NoError(t, err)
		require.Equal(t, want.Total.String(), trace.GetTotal().GetValue(), name)
		require.Len(t, trace.GetSources(), len(want.Sources), name)
		for i, source := range trace.GetSources() {
			require.Equal(t, want.Sources[i].Mass.String(), source.GetMass().GetValue(), name)
		}
		require.Len(t, trace.GetTransfers(), len(want.Transfers), name)
	}
}
