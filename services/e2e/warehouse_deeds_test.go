package e2e

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/quantity"
)

// away and gone are where honey is that left the house or was lost, apart what came back.
const away, gone, apart = "shipped", "lost", "returned"

// deed does one thing.
func (s *shelf) deed(r *rand.Rand) {
	id := uuid.Must(uuid.NewRandomFromReader(reader{r})).String()
	mass := quantity.Mass(1_000*(1+r.Int64N(60)) + 100*r.Int64N(10))
	s.mu.Lock()
	barrel := s.barrels[r.IntN(len(s.barrels))]
	s.mu.Unlock()
	charge, other, lot := s.pick(r, &s.charges), s.pick(r, &s.charges), s.pick(r, &s.lots)
	switch r.IntN(22) {
	case 0:
		s.openCharge(id, tankIDs[r.IntN(len(tankIDs))], quantity.Mass(20_000*r.Int64N(3)))
	case 1:
		s.split(id, barrel, mass)
	case 2:
		// A line of its own: none has to be cleared first.
		did(s, packer, s.client.StartPackLot, &inventoryv1.StartPackLotRequest{RequestId: id, Charge: charge, Label: "labels/HONEY", Line: fmt.Sprintf("L%d", r.IntN(1_000_000))}, func(a *inventoryv1.PackLot) {
			s.lots = append(s.lots, a.GetName())
		})
	case 3, 4:
		// A further charge is confirmed by another than who started the lot: here, by the warehouse.
		did(s, storekeeper, s.client.DrawPackLot, &inventoryv1.DrawPackLotRequest{
			RequestId: id, Name: lot, Charge: charge, Mass: pounds(mass), ConfirmFurtherCharge: true, Reason: "the tank ran dry",
		}, func(*inventoryv1.PackLot) { s.poured(charge, lot, mass) })
	case 5:
		did(s, storekeeper, s.client.TransferCharge, &inventoryv1.TransferChargeRequest{RequestId: id, Name: charge, ToCharge: other, Mass: pounds(mass)},
			func(*inventoryv1.Charge) { s.poured(charge, other, mass) })
	case 6:
		did(s, packer, s.client.ReturnRework, &inventoryv1.ReturnReworkRequest{RequestId: id, Name: lot, Charge: charge, Mass: pounds(mass)},
			func(*inventoryv1.PackLot) { s.poured(lot, charge, mass) })
	case 7:
		from := []string{barrel, charge, lot}[r.IntN(3)]
		did(s, storekeeper, s.client.RecordLoss, &inventoryv1.RecordLossRequest{RequestId: id, From: from, Code: inventoryv1.LossCode_LOSS_CODE_SPILL, Mass: pounds(700), Reason: "spilt"},
			func(*inventoryv1.Transfer) { s.poured(from, gone, 700) })
	case 8:
		did(s, storekeeper, s.client.CorrectHeel, &inventoryv1.CorrectHeelRequest{RequestId: id, Name: charge, Mass: pounds(3_300), Reason: "dipped again"},
			func(*inventoryv1.Charge) { s.poured(s.previous[charge], charge, 3_300) })
	case 9:
		s.closeLot(r, id, lot)
	case 10, 11:
		s.ship(r, id, lot, barrel)
	case 12, 13:
		from := []string{barrel, charge, lot}[r.IntN(3)]
		did(s, storekeeper, s.offs.RequestWriteOff, &inventoryv1.RequestWriteOffRequest{RequestId: id, From: from, Mass: pounds(1_300), Reason: "looked for twice"},
			func(a *inventoryv1.WriteOff) { s.asked = append(s.asked, a.GetName()) })
	case 14:
		if r.IntN(4) == 0 {
			did(s, packer, s.offs.WithdrawWriteOff, &inventoryv1.WithdrawWriteOffRequest{RequestId: id, Name: s.pick(r, &s.asked), Reason: "it turned up"}, func(*inventoryv1.WriteOff) {})
			return
		}
		decision := []inventoryv1.WriteOffState{inventoryv1.WriteOffState_WRITE_OFF_STATE_APPROVED, inventoryv1.WriteOffState_WRITE_OFF_STATE_DECLINED}[r.IntN(2)]
		did(s, keeper, s.offs.DecideWriteOff, &inventoryv1.DecideWriteOffRequest{RequestId: id, Name: s.pick(r, &s.asked), Decision: decision, Reason: "looked again"},
			func(a *inventoryv1.WriteOff) {
				if a.GetTransfer() != "" {
					s.poured(a.GetFrom(), gone, 1_300)
				}
			})
	case 15:
		s.back(r, id)
	case 16, 17:
		s.decide(r, id, charge)
	default:
		did(s, storekeeper, s.client.FillCharge, &inventoryv1.FillChargeRequest{RequestId: id, Name: charge, StockItem: barrel, Mass: pounds(mass)},
			func(*inventoryv1.Charge) { s.poured(barrel, charge, mass) })
	}
}

// reader makes request ids of a seed.
type reader struct{ *rand.Rand }

func (r reader) Read(b []byte) (int, error) {
	for i := range b {
		b[i] = byte(r.Uint32())
	}
	return len(b), nil
}

func (s *shelf) openCharge(id, tank string, heel quantity.Mass) {
	did(s, storekeeper, s.client.OpenCharge, &inventoryv1.OpenChargeRequest{RequestId: id, Tank: "tanks/" + tank, Heel: pounds(heel)}, func(a *inventoryv1.Charge) {
		s.charges = append(s.charges, a.GetName())
		s.previous[a.GetName()] = a.GetPrevious()
		if heel > 0 {
			s.poured(a.GetPrevious(), a.GetName(), heel)
		}
	})
}

func (s *shelf) split(id, barrel string, mass quantity.Mass) {
	parts := []quantity.Mass{mass, 5_000}
	did(s, storekeeper, s.client.SplitBarrel, &inventoryv1.SplitBarrelRequest{RequestId: id, Name: barrel, Parts: []*inventoryv1.SplitPart{
		{DrumTag: "PAIL-A", Net: pounds(parts[0])}, {DrumTag: "PAIL-B", Net: pounds(parts[1])},
	}}, func(a *inventoryv1.SplitBarrelResponse) {
		for i, name := range a.GetStockItems() {
			s.barrels = append(s.barrels, name)
			s.poured(barrel, name, parts[i])
		}
	})
}

// closeLot counts the jars so that they weigh what was drawn, if nobody draws meanwhile.
func (s *shelf) closeLot(r *rand.Rand, id, lot string) {
	found, err := until(s, packer, s.client.GetPackLot, &inventoryv1.GetPackLotRequest{Name: lot})
	if err != nil {
		return
	}
	content := s.mass(found.GetContent().GetValue())
	jars := max(int64(content)/1000, 1) + r.Int64N(2)
	did(s, packer, s.client.ClosePackLot, &inventoryv1.ClosePackLotRequest{RequestId: id, Name: lot, Jars: jars, MeanNet: pounds(content / quantity.Mass(jars))},
		func(*inventoryv1.PackLot) { s.jars[lot] = jars })
}

func (s *shelf) ship(r *rand.Rand, id, lot, barrel string) {
	req := &inventoryv1.ShipRequest{RequestId: id, Customer: "North Mill Bakery", RecallContact: "555 0100", Carrier: "Valley Freight", CarrierAddress: "12 Depot Road, Lower Valley", CarrierTelephone: "555 0160"}
	if r.IntN(2) == 0 {
		req.Lines = []*inventoryv1.ShipmentLine{{PackLot: lot, Jars: 1 + r.Int64N(9)}}
	}
	if len(req.GetLines()) == 0 || r.IntN(2) == 0 {
		req.BulkLines = []*inventoryv1.BulkLine{{Place: barrel, Mass: pounds(11_100)}}
	}
	did(s, storekeeper, s.client.Ship, req, func(a *inventoryv1.Shipment) {
		for _, l := range a.GetLines() {
			s.jars[lot] -= l.GetJars()
			s.poured(lot, away, s.mass(l.GetMass().GetValue()))
			s.sent = append(s.sent, a.GetName()+" "+lot)
		}
		for range a.GetBulkLines() {
			s.poured(barrel, away, 11_100)
			s.sent = append(s.sent, a.GetName()+" "+barrel)
		}
	})
}

// back brings back some of what left: jars of a lot, or part of a barrel.
func (s *shelf) back(r *rand.Rand, id string) {
	shipment, place, _ := strings.Cut(s.pick(r, &s.sent), " ")
	req := &inventoryv1.ReceiveReturnRequest{RequestId: id, Shipment: shipment, Place: place, Reason: "recalled"}
	if strings.HasPrefix(place, "packLots/") {
		req.Jars = r.Int64N(4)
	} else {
		req.Mass = pounds(4_400)
	}
	did(s, packer, s.sales.ReceiveReturn, req, func(a *inventoryv1.ReceiveReturnResponse) {
		for _, one := range a.GetReturns() {
			s.returns = append(s.returns, one.GetName())
			s.poured(away, apart, s.mass(one.GetMass().GetValue()))
		}
	})
}

// decide puts what came back where it was, or into a tank, or destroys it.
func (s *shelf) decide(r *rand.Rand, id, charge string) {
	req := &inventoryv1.DecideReturnRequest{
		RequestId: id, Name: s.pick(r, &s.returns), Outcome: inventoryv1.ReturnOutcome(1 + r.IntN(2)), Jars: r.Int64N(3), Reason: "looked at",
	}
	if r.IntN(3) == 0 {
		req.Jars, req.Mass, req.Charge = 0, pounds(2_200), charge
	}
	did(s, storekeeper, s.sales.DecideReturn, req, func(a *inventoryv1.CustomerReturn) {
		d := a.GetDecisions()[len(a.GetDecisions())-1]
		to := d.GetTo()
		if strings.HasPrefix(to, "losses/") {
			to = gone
		} else if d.GetJars() > 0 {
			s.jars[to] += d.GetJars()
		}
		s.poured(apart, to, s.mass(d.GetMass().GetValue()))
	})
}

func (s *shelf) mass(text string) quantity.Mass {
	m, err := quantity.ParseMass(text)
	require.NoError(s.t, err)
	return m
}

// reconcile compares everything the service says with what its answers said.
func (s *shelf) reconcile() {
	s.t.Helper()
	in, out := s.events()
	var house quantity.Mass
	for _, name := range slices.Concat(s.barrels, s.charges, s.lots) {
		has := s.has(name)
		require.Equal(s.t, s.content[name].String(), has.String(), "what is in %s", name)
		opening := quantity.Mass(0)
		if slices.Index(s.barrels, name) >= 0 && slices.Index(s.barrels, name) < shelfBarrels {
			opening = shelfNet
		}
		require.Equal(s.t, (opening + in[name]).String(), (out[name] + has).String(), "pounds in and pounds out, lost and on hand of %s", name)
		house += has
		trace, err := until(s, accessv1.Role_ROLE_AUDITOR, s.client.Trace, &inventoryv1.TraceRequest{Name: name})
		require.NoError(s.t, err)
		require.Equal(s.t, "100.0", trace.GetAccountedPercent(), name)
	}
	b, err := until(s, accessv1.Role_ROLE_AUDITOR, s.client.GetMassBalance, &inventoryv1.GetMassBalanceRequest{})
	require.NoError(s.t, err)
	require.Equal(s.t, "0.0", b.GetDifference().GetValue(), b)
	require.Equal(s.t, (shelfBarrels * shelfNet).String(), b.GetReceived().GetValue())
	require.Equal(s.t, s.content[away].String(), b.GetShipped().GetValue())
	require.Equal(s.t, s.content[apart].String(), b.GetReturned().GetValue())
	require.Equal(s.t, (shelfBarrels * shelfNet).String(), (house + s.content[away] + s.content[apart] + s.content[gone]).String())
}

// has is what is in a place, as the service says.
func (s *shelf) has(name string) quantity.Mass {
	s.t.Helper()
	switch kind, _, _ := strings.Cut(name, "/"); kind {
	case "stock":
		item, err := until(s, storekeeper, s.client.GetStockItem, &inventoryv1.GetStockItemRequest{Name: name})
		require.NoError(s.t, err)
		return s.mass(item.GetRemaining().GetValue())
	case "charges":
		charge, err := until(s, storekeeper, s.client.GetCharge, &inventoryv1.GetChargeRequest{Name: name})
		require.NoError(s.t, err)
		return s.mass(charge.GetContent().GetValue())
	default:
		lot, err := until(s, packer, s.client.GetPackLot, &inventoryv1.GetPackLotRequest{Name: name})
		require.NoError(s.t, err)
		require.Equal(s.t, s.jars[name], lot.GetJarsOnHand(), "jars of %s", name)
		return s.mass(lot.GetContent().GetValue())
	}
}

// events adds up the records of what went in and out of each place. There are as many as were answered.
func (s *shelf) events() (in, out map[string]quantity.Mass) {
	s.t.Helper()
	in, out = map[string]quantity.Mass{}, map[string]quantity.Mass{}
	now, moves := time.Now(), 0
	ask := &inventoryv1.ListTraceEventsRequest{FromDate: now.AddDate(0, 0, -2).Format(time.DateOnly), ThroughDate: now.AddDate(0, 0, 2).Format(time.DateOnly), PageSize: 1000}
	for {
		page, err := until(s, accessv1.Role_ROLE_AUDITOR, s.records.ListTraceEvents, ask)
		require.NoError(s.t, err)
		for _, e := range page.GetEvents() {
			if e.GetKind() == inventoryv1.TraceEventKind_TRACE_EVENT_KIND_PACKED {
				continue
			}
			moves++
			in[e.GetTo()] += s.mass(e.GetMass().GetValue())
			out[e.GetFrom()] += s.mass(e.GetMass().GetValue())
		}
		if ask.PageToken = page.GetNextPageToken(); ask.GetPageToken() == "" {
			break
		}
	}
	require.Equal(s.t, s.moves, moves, "records of honey that went from one place to another")
	return in, out
}
