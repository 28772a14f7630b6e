package warehouse

import (
	"cmp"
	"net/url"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/apierr"
)

const (
	listReturns   = inventoryv1.SalesService_ListReturns_FullMethodName
	receiveReturn = inventoryv1.SalesService_ReceiveReturn_FullMethodName
	decideReturn  = inventoryv1.SalesService_DecideReturn_FullMethodName
)

// returnPages are what customers sent back, and what becomes of it.
func (s room) returnPages() map[string]site.Page {
	return map[string]site.Page{
		"/returns":             {Needs: listReturns, Show: s.returns},
		"/returns/new":         {Needs: receiveReturn, Show: s.newReturn, Form: true},
		"/returns/{id}/decide": {Needs: decideReturn, Show: s.decideReturn, Form: true},
	}
}

// returns lists what waits for a decision, or everything that ever came back.
func (s room) returns(v *site.Visit) (site.View, error) {
	query := v.URL.Query()
	all := query.Get("all") != "" || query.Get("shipment") != ""
	found, err := s.Sales.ListReturns(v.Ctx, &inventoryv1.ListReturnsRequest{
		PageSize: 50, PageToken: query.Get("page"), WaitingOnly: !all, Shipment: query.Get("shipment"),
	})
	if err != nil {
		return site.View{}, err
	}
	done := ""
	switch came := query.Get("came"); {
	case came != "":
		done = "Received from " + came + ". Another person decides what becomes of it."
	case query.Get("done") == "RESTOCKED":
		done = "Decided: it is for sale again."
	case query.Get("done") == "DESTROYED":
		done = "Decided: it is destroyed."
	}
	var places []string
	for _, r := range found.GetReturns() {
		places = append(places, r.GetPlace())
		for _, d := range r.GetDecisions() {
			places = append(places, d.GetTo())
		}
	}
	return site.View{Page: "returns", Title: "Returns", Data: map[string]any{
		"Done": done, "Returns": found.GetReturns(), "Names": s.NamesOf(v, places), "All": all, "Shipment": query.Get("shipment"), "Next": site.NextPage(v, found.GetNextPageToken()),
		"Me": "users/" + v.Who.Name, "MayReceive": v.MayCall(receiveReturn), "MayDecide": v.MayCall(decideReturn), "MayTrace": v.MayCall(traceHoney),
	}}, nil
}

// newReturn takes a pallet by its code, or jars or honey of what the shipments page named.
func (s room) newReturn(v *site.Visit) (site.View, error) {
	f := v.Form()
	place := f.Value("place")
	d := map[string]any{"Place": place, "Jars": strings.HasPrefix(place, "packLots/"), "Back": "/shipments"}
	if place == "" {
		d["Back"] = "/returns"
	} else {
		d["Called"] = cmp.Or(s.NamesOf(v, []string{place})[place], site.Thing(place))
	}
	return s.PlainTask(v, f, "newreturn", "It came back", d, func() (string, error) {
		request := &inventoryv1.ReceiveReturnRequest{
			RequestId: f.RequestID, Shipment: f.Value("shipment"), Place: place, Mass: s.MassOr(f.Value("mass")), Reason: f.Value("reason"),
		}
		var err error
		if request.Jars, err = someJars(f); err != nil {
			return "", err
		}
		if place == "" {
			request.Pallet = "pallets/" + palletScan(strings.TrimPrefix(f.Value("pallet"), "pallets/"))
		}
		made, err := s.Sales.ReceiveReturn(v.Ctx, request)
		if err != nil {
			return "", err
		}
		return "/returns?" + url.Values{"came": {made.GetReturns()[0].GetCustomer()}}.Encode(), nil
	})
}

// someJars are those typed; none typed are all there are.
func someJars(f *site.Form) (int64, error) {
	typed := f.Value("jars")
	if n := site.Count(typed); typed == "" || n > 0 {
		return n, nil
	}
	return 0, apierr.Field("jars", "must be a whole number from 1, or nothing for all of them")
}

var returnOutcomes = site.NewOptions("RESTOCKED", "is for sale again", "DESTROYED", "is destroyed")

func (s room) decideReturn(v *site.Visit) (site.View, error) {
	f := v.Form()
	r, err := s.Sales.GetReturn(v.Ctx, &inventoryv1.GetReturnRequest{Name: "returns/" + v.PathValue("id")})
	if err != nil {
		return site.View{}, err
	}
	d := map[string]any{
		"Return": r, "Outcomes": returnOutcomes, "Called": cmp.Or(s.NamesOf(v, []string{r.GetPlace()})[r.GetPlace()], site.Thing(r.GetPlace())), "Mine": r.GetReceiver() == "users/"+v.Who.Name,
	}
	if r.GetJars() == 0 {
		if d["Tanks"], err = s.openCharges(v, ""); err != nil {
			return site.View{}, err
		}
	}
	return s.PlainTask(v, f, "decidereturn", "What becomes of it", d, func() (string, error) {
		outcome := inventoryv1.ReturnOutcome(inventoryv1.ReturnOutcome_value["RETURN_OUTCOME_"+f.Value("outcome")])
		request := &inventoryv1.DecideReturnRequest{RequestId: f.RequestID, Name: r.GetName(), Outcome: outcome, Mass: s.MassOr(f.Value("mass")), Reason: f.Value("reason")}
		var err error
		if request.Jars, err = someJars(f); err != nil {
			return "", err
		}
		if outcome == inventoryv1.ReturnOutcome_RETURN_OUTCOME_RESTOCKED {
			request.Charge = f.Value("charge")
		}
		_, err = s.Sales.DecideReturn(v.Ctx, request)
		return "/returns?" + url.Values{"done": {f.Value("outcome")}}.Encode(), err
	})
}
