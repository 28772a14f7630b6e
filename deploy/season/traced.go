package season

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/quantity"
)

// Packed is what the warehouse did, read back through the API.
type Packed struct {
	// Runs are the balances of the lots, in the order they were packed.
	Runs []*inventoryv1.Balance
	// Tanks are the balances of their charges, Month is that of the month they were packed in.
	Tanks []*inventoryv1.Balance
	Month *inventoryv1.Balance
	// Jars of all lots.
	Jars int64
	// Trace is of the lot that went through a heel.
	Trace *inventoryv1.TraceResponse
	Drill *inventoryv1.RecallDrill
	House *inventoryv1.MassBalance
}

// trace asks what an auditor would ask, and has a mock recall of the last lot.
func (w *warehouse) trace(ctx context.Context) (*Packed, error) {
	p := &Packed{Trace: &inventoryv1.TraceResponse{}, Drill: &inventoryv1.RecallDrill{}, House: &inventoryv1.MassBalance{}}
	auditor, lot := w.sessions["auditor"], w.last()
	if err := w.do(ctx, deed{"lead", "recallDrills", &inventoryv1.StartRecallDrillRequest{RequestId: w.id("drill"), Subject: lot.GetName()}, p.Drill}); err != nil {
		return nil, err
	}
	if err := auditor.Get(ctx, "/v1/trace?name=packLots/"+lot.GetCode(), p.Trace); err != nil {
		return nil, err
	}
	if err := w.do(ctx, deed{"office", p.Drill.GetName() + ":finish", &inventoryv1.FinishRecallDrillRequest{
		RequestId: w.id("finish drill"), Name: p.Drill.GetName(), Found: p.Drill.GetTotal(), Contacts: "both customers by telephone, the shelves by counting",
	}, p.Drill}); err != nil {
		return nil, err
	}
	if err := auditor.Get(ctx, "/v1/massBalance", p.House); err != nil {
		return nil, err
	}
	return p, w.balances(ctx, p)
}

// balances finds those of our lots and charges among the house's, and that of the month.
func (w *warehouse) balances(ctx context.Context, p *Packed) error {
	list := func(by inventoryv1.BalanceBy) ([]*inventoryv1.Balance, error) {
		var page inventoryv1.ListBalancesResponse
		err := w.sessions["auditor"].Get(ctx, "/v1/balances?page_size=1000&by="+by.String(), &page)
		return page.GetBalances(), err
	}
	runs, err := list(inventoryv1.BalanceBy_BALANCE_BY_RUN)
	if err != nil {
		return err
	}
	tanks, err := list(inventoryv1.BalanceBy_BALANCE_BY_TANK)
	if err != nil {
		return err
	}
	months, err := list(inventoryv1.BalanceBy_BALANCE_BY_MONTH)
	if err != nil {
		return err
	}
	zone, err := zone()
	if err != nil {
		return err
	}
	for i, lot := range w.lots {
		p.Jars += lot.GetJars()
		p.Runs = append(p.Runs, named(runs, lot.GetName()))
		p.Tanks = append(p.Tanks, named(tanks, w.charges[i]))
	}
	p.Month = named(months, w.last().GetStartTime().AsTime().In(zone).Format("2006-01"))
	return nil
}

func named(balances []*inventoryv1.Balance, name string) *inventoryv1.Balance {
	if i := slices.IndexFunc(balances, func(b *inventoryv1.Balance) bool { return b.GetName() == name }); i >= 0 {
		return balances[i]
	}
	return nil
}

// Print writes a paragraph of what was packed.
func (p *Packed) Print(w io.Writer) error {
	var drawn, jars, lost, unexplained quantity.Mass
	var codes []string
	for _, b := range p.Runs {
		codes = append(codes, b.GetTitle())
		for sum, masses := range map[*quantity.Mass][]*typev1.Mass{
			&drawn: {b.GetReceived()}, &jars: {b.GetPacked()}, &lost: losses(b.GetLosses()), &unexplained: {b.GetUnexplained()},
		} {
			if err := add(sum, masses...); err != nil {
				return err
			}
		}
	}
	var gone quantity.Mass
	if err := add(&gone, losses(p.House.GetLosses())...); err != nil {
		return err
	}
	customers := map[string]bool{}
	for _, c := range p.Trace.GetCustomers() {
		customers[c.GetCustomer()] = true
	}
	_, err := fmt.Fprintf(w, `
The warehouse packed %d jars of clover honey as lots %s: %s lb drawn, %s lb in jars, %s lb lost, %s lb unexplained.
Lot %s holds honey of %d barrels of %d members and reached %d customers: %s %% of it found, in %d ms.
Of %s lb of honey received, %s lb are in barrels, %s lb in tanks, %s lb in jars, %s lb shipped, %s lb lost: difference %s lb.
`, p.Jars, strings.Join(codes, " and "), drawn, jars, lost, unexplained,
		codes[len(codes)-1], len(p.Trace.GetSources()), p.Trace.GetMembers(), len(customers), p.Trace.GetAccountedPercent(), p.Trace.GetElapsedMilliseconds(),
		p.House.GetReceived().GetValue(), p.House.GetBarrels().GetValue(), p.House.GetTanks().GetValue(), p.House.GetLots().GetValue(),
		p.House.GetShipped().GetValue(), gone, p.House.GetDifference().GetValue())
	return err
}

func losses(totals []*inventoryv1.LossTotal) (out []*typev1.Mass) {
	for _, l := range totals {
		out = append(out, l.GetMass())
	}
	return out
}

func add(sum *quantity.Mass, masses ...*typev1.Mass) error {
	for _, m := range masses {
		mass, err := quantity.ParseMass(m.GetValue())
		if err != nil {
			return err
		}
		*sum += mass
	}
	return nil
}
