package rpc

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/google/uuid"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/blend"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
)

// PlanBlend proposes barrels for tank charges.
func (s *Server) PlanBlend(ctx context.Context, req *inventoryv1.PlanBlendRequest) (*inventoryv1.BlendPlan, error) {
	c, err := s.planBlend(ctx, req)
	if err != nil {
		return nil, err
	}
	plan, err := s.app.PlanBlend(ctx, c)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.BlendPlan{
		Status: blendStatus(plan.Status), Cost: wire.MoneyToProto(plan.Cost, s.app.Currency), Nodes: plan.Nodes,
		Candidates: int32(plan.Candidates), //nolint:gosec // a warehouse holds fewer
	}
	if plan.Bound != nil {
		answer.Bound = wire.MoneyToProto(*plan.Bound, s.app.Currency)
	}
	for n, p := range plan.Plans {
		answer.Orders = append(answer.Orders, s.orderPlan(c.Orders[n], p))
	}
	return answer, nil
}

// planBlend reads the request; every fault in it is reported at once.
func (s *Server) planBlend(ctx context.Context, req *inventoryv1.PlanBlendRequest) (app.PlanBlend, error) {
	r := s.reader()
	c := app.PlanBlend{
		Grades: req.GetGrades(), Excluded: map[uuid.UUID]bool{},
		Options: blend.Options{Nodes: req.GetNodeBudget(), Gap: req.GetGapMillionths()},
	}
	ids := map[string]bool{}
	for n, o := range req.GetOrders() {
		place := fmt.Sprintf("orders[%d].", n)
		c.Orders = append(c.Orders, r.order(place, o))
		if ids[o.GetId()] {
			r.note(place+"id", fmt.Errorf("%q names two orders", o.GetId()))
		}
		ids[o.GetId()] = true
		if o.GetPartBarrel() && len(req.GetOrders()) > 1 {
			r.note(place+"part_barrel", errors.New("is for one order at a time"))
		}
	}
	for n, v := range req.GetValues() {
		place := fmt.Sprintf("values[%d].price", n)
		price, err := wire.PriceFromProto(v.GetPrice(), s.app.Currency, s.app.Unit)
		r.note(place, err)
		c.Values = append(c.Values, app.BlendValue{Variety: v.GetVariety(), ColorClass: v.GetColorClass(), Price: price})
	}
	if credit := req.GetAgeCreditPerDay(); credit != nil {
		var err error
		c.CreditPerDay, err = wire.EnteredFromProto(credit, s.app.Currency)
		r.note("age_credit_per_day", err)
	}
	for n, name := range req.GetExcludedItems() {
		c.Excluded[r.id(fmt.Sprintf("excluded_items[%d]", n), "stock", name)] = true
	}
	if err := r.err(); err != nil {
		return c, err
	}
	for n, o := range req.GetOrders() {
		if err := s.claimed(ctx, o, c.Orders[n]); err != nil {
			return c, err
		}
	}
	return c, nil
}

func (s *Server) orderPlan(o blend.Order, p *blend.Plan) *inventoryv1.BlendOrderPlan {
	m := &inventoryv1.BlendOrderPlan{Order: p.Order, Status: blendStatus(p.Status), Explanation: s.explain(o, p)}
	if p.Bound != nil {
		m.Bound = wire.MoneyToProto(*p.Bound, s.app.Currency)
	}
	m.Conflict = limits(p.Conflict)
	m.Relaxations, m.Together = s.changes(p.Changes), s.changes(p.Together)
	if p.Status != blend.Proved && p.Status != blend.Found {
		return m
	}
	if p.Part != "" {
		m.PartItem, m.PartWeight = "stock/"+p.Part, wire.MassToProto(p.PartWeight, s.app.Unit)
	}
	for _, b := range p.Barrels {
		m.StockItems = append(m.StockItems, "stock/"+b)
	}
	f := p.Figures
	m.Weight, m.Cost = wire.MassToProto(f.Weight, s.app.Unit), wire.MoneyToProto(p.Cost, s.app.Currency)
	m.MoisturePercent, m.PfundMm = f.Moisture.String(), quantity.FormatFixed(int64(blend.PfundOf(f.Density)), 2, 1)
	m.Members, m.AgedBarrels = int32(f.Members), int32(f.Aged) //nolint:gosec // no more than barrels
	if o.Variety != "" {
		m.SharePercent = f.Share.String()
	}
	if f.HMF != nil {
		m.HmfMgPerKg = f.HMF.String()
	}
	for _, share := range f.Groups {
		m.GroupSharesPercent = append(m.GroupSharesPercent, share.String())
	}
	return m
}

func limits(all []blend.Limit) (out []inventoryv1.BlendLimit) {
	for _, l := range all {
		out = append(out, present.Limit(l))
	}
	return out
}

func (s *Server) changes(all []blend.Change) (out []*inventoryv1.BlendChange) {
	for _, c := range all {
		_, group := c.Limit.Split()
		out = append(out, &inventoryv1.BlendChange{
			Limit: present.Limit(c.Limit), Group: group, From: c.Limit.Number(c.From), To: c.Limit.Number(c.To), By: c.Limit.Number(c.By()),
			Unit: c.Limit.Unit(s.app.Unit), Nearest: c.Nearest,
		})
	}
	return out
}

func blendStatus(s blend.Status) inventoryv1.BlendStatus {
	return inventoryv1.BlendStatus(inventoryv1.BlendStatus_value["BLEND_STATUS_"+string(s)])
}

// explain says in words what was chosen or what stands in the way.
func (s *Server) explain(o blend.Order, p *blend.Plan) string {
	switch p.Status {
	case blend.Infeasible:
		return "no choice of barrels on hand keeps " + s.together(o, p.Conflict) + s.wayOut(o, p.Changes, p.Together)
	case blend.Undecided:
		return "nothing was found within the work allowed, and it is not proved that nothing can be; raise node_budget or widen a limit"
	default:
		f := p.Figures
		words := fmt.Sprintf("%s, %s: water %s %%, colour %s mm Pfund, %s", quantity.Count(f.Barrels, "barrel"), f.Weight.Say(s.app.Unit), f.Moisture,
			quantity.FormatFixed(int64(blend.PfundOf(f.Density)), 2, 1), quantity.Count(f.Members, "member"))
		if p.Part != "" {
			words += fmt.Sprintf(", %s of it from one more barrel", p.PartWeight.Say(s.app.Unit))
		}
		if o.Variety != "" {
			words += fmt.Sprintf(", %s %s %%", o.Variety, f.Share)
		}
		return words
	}
}

// together names limits in words, joined.
func (s *Server) together(o blend.Order, all []blend.Limit) string {
	var words []string
	for _, l := range all {
		words = append(words, o.Words(l, s.app.Unit))
	}
	return strings.Join(words, " and ")
}

// wayOut says what would do.
func (s *Server) wayOut(o blend.Order, single, together []blend.Change) string {
	words := func(changes []blend.Change) (out []string) {
		for _, c := range changes {
			given := o.With(c)
			out = append(out, given.Words(c.Limit, s.app.Unit))
		}
		return out
	}
	switch {
	case len(single) > 0:
		return "; there is one with " + strings.Join(words(single), ", or one with ")
	case len(together) > 0:
		return "; there is one with " + strings.Join(words(together), " and ")
	default:
		return "; give way on one of them"
	}
}

// The compiler checks that the errors of the domain can name their field.
var _ interface{ Field() string } = (*blend.Fault)(nil)
