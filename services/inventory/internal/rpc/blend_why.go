package rpc

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/blend"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
)

// ExplainBlendChoice says why a plan does not use a barrel.
func (s *Server) ExplainBlendChoice(ctx context.Context, req *inventoryv1.ExplainBlendChoiceRequest) (*inventoryv1.BlendChoiceExplanation, error) {
	c, err := s.planBlend(ctx, req.GetPlan())
	r := s.reader()
	barrel := r.id("stock_item", "stock", req.GetStockItem())
	n := slices.IndexFunc(c.Orders, func(o blend.Order) bool { return o.ID == req.GetOrder() })
	if req.GetOrder() == "" && len(c.Orders) == 1 {
		n = 0
	}
	if n < 0 {
		r.note("order", fmt.Errorf("%q is not the id of an order of the plan", req.GetOrder()))
	}
	if err := errors.Join(err, r.err()); err != nil {
		return nil, err
	}
	e, err := s.app.ExplainBlendChoice(ctx, c, n, barrel)
	if err != nil {
		return nil, err
	}
	return s.explanation(c.Orders[n], e), nil
}

func (s *Server) explanation(o blend.Order, e app.Explanation) *inventoryv1.BlendChoiceExplanation {
	m := s.barred(e)
	a := e.Absence
	if a == nil {
		return m
	}
	m.Choice, m.UsedBy, m.Conflict = choices[a.Role], a.Order, limits(a.Conflict)
	m.Breaks, m.Together = s.changes(a.Changes), s.changes(a.Together)
	if a.With != nil {
		if a.More == 0 {
			m.Choice = inventoryv1.BlendChoice_BLEND_CHOICE_TIE
		}
		m.More, m.AtLeast = wire.MoneyToProto(a.More, s.app.Currency), wire.MoneyToProto(a.AtLeast, s.app.Currency)
		for _, b := range a.With.Barrels {
			m.StockItems = append(m.StockItems, "stock/"+b)
		}
	}
	m.Explanation = fmt.Sprintf("barrel %s %s", e.Item.DrumTag, s.because(o, a))
	return m
}

var choices = map[blend.Role]inventoryv1.BlendChoice{
	blend.InPlan:    inventoryv1.BlendChoice_BLEND_CHOICE_IN_PLAN,
	blend.Dearer:    inventoryv1.BlendChoice_BLEND_CHOICE_DEARER,
	blend.Breaks:    inventoryv1.BlendChoice_BLEND_CHOICE_BREAKS_LIMIT,
	blend.Starves:   inventoryv1.BlendChoice_BLEND_CHOICE_STARVES_OTHERS,
	blend.Unsettled: inventoryv1.BlendChoice_BLEND_CHOICE_UNSETTLED,
	blend.NoPlan:    inventoryv1.BlendChoice_BLEND_CHOICE_NO_PLAN,
}

// because completes "barrel … …".
func (s *Server) because(o blend.Order, a *blend.Absence) string {
	elsewhere := ""
	if a.Order != "" && a.Order != o.ID {
		elsewhere = fmt.Sprintf("; the plan uses it for %s", a.Order)
	}
	switch a.Role {
	case blend.InPlan:
		return "is in the plan"
	case blend.Breaks:
		return "cannot be used: with it, even in the best company, no choice keeps " + s.together(o, a.Conflict) + s.over(a)
	case blend.Starves:
		return "would leave too little for the other orders" + elsewhere
	case blend.Unsettled:
		return "might do: no plan with it was found within the work allowed, and none is excluded; raise node_budget" + elsewhere
	case blend.NoPlan:
		return "is not the reason: there is no plan without it either"
	default:
		return s.dearer(a) + elsewhere
	}
}

// dearer says what a plan with the barrel costs more.
func (s *Server) dearer(a *blend.Absence) string {
	switch {
	case a.More == 0:
		return "would do as well: a plan with it costs the same"
	case a.More == a.AtLeast:
		return fmt.Sprintf("would do, but the cheapest plan with it costs %s %s more", a.More, s.app.Currency)
	default:
		return fmt.Sprintf("would do, but the best plan found with it costs %s %s more; at least %s %s is proved",
			a.More, s.app.Currency, a.AtLeast, s.app.Currency)
	}
}

// over says by how much the limits would be broken.
func (s *Server) over(a *blend.Absence) string {
	join, changes := ", or by ", a.Changes
	if len(changes) == 0 {
		join, changes = " and by ", a.Together
	}
	var words []string
	for _, c := range changes {
		words = append(words, c.Limit.Say(c.Limit.Number(c.By()), s.app.Unit)+", to "+c.Limit.Say(c.Limit.Number(c.To), s.app.Unit))
	}
	if len(words) == 0 {
		return ""
	}
	return ": broken by " + strings.Join(words, join)
}

// barred shows a barrel with what keeps it out of every plan.
func (s *Server) barred(e app.Explanation) *inventoryv1.BlendChoiceExplanation {
	m := &inventoryv1.BlendChoiceExplanation{StockItem: "stock/" + e.Item.Barrel.String(), DrumTag: e.Item.DrumTag}
	if len(e.Bars) == 0 {
		return m
	}
	m.Choice = inventoryv1.BlendChoice_BLEND_CHOICE_BARRED
	var words []string
	for _, b := range e.Bars {
		m.Obstacles = append(m.Obstacles, inventoryv1.BlendObstacle(inventoryv1.BlendObstacle_value["BLEND_OBSTACLE_"+string(b)]))
		if b != app.BarHeld {
			words = append(words, barWords[b])
			continue
		}
		for _, h := range e.Item.Holds {
			m.Holds = append(m.Holds, present.Hold(h))
			words = append(words, fmt.Sprintf("is on hold (%s): %s", strings.ToLower(string(h.Code)), h.Reason))
		}
	}
	m.Explanation = fmt.Sprintf("barrel %s %s", e.Item.DrumTag, strings.Join(words, ", and "))
	return m
}

var barWords = map[app.Bar]string{
	app.BarNotOnHand: "is no longer on hand", app.BarNotGraded: "has no certificate with water and colour",
	app.BarGrade: "is not of a grade that was asked for", app.BarExcluded: "was left out by the question",
	app.BarHMFUnknown: "has no HMF measured, and the order limits it",
}

// CheckBlendSwap says whether a plan still keeps its order after barrels were changed on the floor.
func (s *Server) CheckBlendSwap(ctx context.Context, req *inventoryv1.CheckBlendSwapRequest) (*inventoryv1.BlendSwapCheck, error) {
	c, err := s.swap(req)
	if err != nil {
		return nil, err
	}
	if err := s.claimed(ctx, req.GetOrder(), c.Order); err != nil {
		return nil, err
	}
	check, err := s.app.CheckBlendSwap(ctx, c)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.BlendSwapCheck{Accepted: check.Kept && len(check.Barred) == 0, Weight: wire.MassToProto(check.Weight, s.app.Unit)}
	for _, b := range c.After() {
		answer.StockItems = append(answer.StockItems, "stock/"+b.String())
	}
	var against []string
	for _, e := range check.Barred {
		m := s.barred(e)
		answer.Barred, against = append(answer.Barred, m), append(against, m.GetExplanation())
	}
	for _, l := range check.Limits {
		_, group := l.Limit.Split()
		unit := l.Limit.Unit(s.app.Unit)
		answer.Limits = append(answer.Limits, &inventoryv1.BlendLimitCheck{
			Limit: present.Limit(l.Limit), Group: group, Allowed: l.Limit.Number(l.Allowed), Before: l.Before, After: l.After, Unit: unit,
			Kept: l.Kept, KeptBefore: l.KeptBefore, Excess: l.Excess,
		})
		if !l.Kept {
			against = append(against, fmt.Sprintf("it comes to %s, and the order asks for %s", l.Limit.Say(l.After, s.app.Unit), c.Order.Words(l.Limit, s.app.Unit)))
		}
	}
	answer.Explanation = "accepted: every limit is kept"
	if !answer.GetAccepted() {
		answer.Explanation = "refused: " + strings.Join(against, "; ")
	}
	return answer, nil
}

// swap reads the request; every fault in it is reported at once.
func (s *Server) swap(req *inventoryv1.CheckBlendSwapRequest) (app.Swap, error) {
	r := s.reader()
	c := app.Swap{Order: r.order("order.", req.GetOrder()), Part: r.optionalID("part_item", "stock", req.GetPartItem())}
	if c.Part != uuid.Nil {
		c.PartWeight = r.mass("part_weight", req.GetPartWeight(), quantity.Mass(1))
	}
	c.Plan = r.once("stock_items", req.GetStockItems(), nil, c.Part)
	c.Out = r.once("out_items", req.GetOutItems(), append(slices.Clone(c.Plan), c.Part))
	c.In = r.once("in_items", req.GetInItems(), nil, append(slices.Clone(c.Plan), c.Part)...)
	return c, r.err()
}

// once reads names of which none comes twice or is one of not, and all are among of unless that is nil.
func (r *reader) once(field string, names []string, of []uuid.UUID, not ...uuid.UUID) []uuid.UUID {
	var out []uuid.UUID
	for n, name := range names {
		at := fmt.Sprintf("%s[%d]", field, n)
		id := r.id(at, "stock", name)
		switch {
		case slices.Contains(out, id):
			r.note(at, fmt.Errorf("%s comes twice", name))
		case slices.Contains(not, id):
			r.note(at, fmt.Errorf("%s is in the plan already", name))
		case of != nil && !slices.Contains(of, id):
			r.note(at, fmt.Errorf("%s is not in the plan", name))
		}
		out = append(out, id)
	}
	return out
}
