package web

import (
	"cmp"
	"fmt"
	"net/url"

	"barrelhead.example/gateway/internal/probelog"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/quantity"
)

const (
	listBalances       = inventoryv1.WarehouseRecordsService_ListBalances_FullMethodName
	recordTemperatures = inventoryv1.InventoryService_RecordTemperatures_FullMethodName
	allowHeat          = inventoryv1.InventoryService_AllowHeat_FullMethodName
	listAllowances     = inventoryv1.WarehouseRecordsService_ListHeatAllowances_FullMethodName
)

// keptPages are the balances of runs, tanks and months, and the file of a temperature logger.
func (s *site) keptPages() map[string]page {
	return map[string]page{
		"/balances":       {needs: listBalances, show: s.balances},
		"/side-goods":     {needs: listSide, show: s.sideGoods},
		"/side-goods/new": {needs: recordSide, show: s.newSideGood, form: true},
		"/heat/new":       {needs: recordTemperatures, show: s.newHeat, form: true},
		"/heat/allowed":   {needs: listAllowances, show: s.heatAllowed},
		"/heat/allow":     {needs: allowHeat, show: s.allowHeat, form: true},
	}
}

// balanceKinds are what a balance can be of, by the word in the address.
var balanceKinds = map[string]inventoryv1.BalanceBy{
	"run": inventoryv1.BalanceBy_BALANCE_BY_RUN, "tank": inventoryv1.BalanceBy_BALANCE_BY_TANK, "month": inventoryv1.BalanceBy_BALANCE_BY_MONTH,
}

func (s *site) balances(v *visit) (view, error) {
	by := v.URL.Query().Get("by")
	kind, known := balanceKinds[by]
	if !known {
		by, kind = "run", inventoryv1.BalanceBy_BALANCE_BY_RUN
	}
	found, err := s.records.ListBalances(v.ctx, &inventoryv1.ListBalancesRequest{By: kind, PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	over := 0
	for _, b := range found.GetBalances() {
		if b.GetOverLimit() {
			over++
		}
	}
	return view{page: "balances", title: "Mass balance", data: map[string]any{
		"By": by, "Balances": found.GetBalances(), "Over": over, "Next": nextPage(v, found.GetNextPageToken()),
	}}, nil
}

// newHeat takes the file of a temperature logger, or its rows pasted.
func (s *site) newHeat(v *visit) (view, error) {
	f := v.form()
	d := map[string]any{}
	if charge := f.Value("charge"); charge != "" {
		d["Charge"], d["Back"] = cmp.Or(s.namesOf(v, []string{charge})[charge], thing(charge)), placeAddress(charge)
	}
	return s.plainTask(v, f, "newheat", "Log a warm room", d, func() (string, error) {
		warmed, err := s.warmedBy(v, f)
		if err != nil {
			return "", err
		}
		content, err := pastedOrFile(v, f)
		if err != nil {
			return "", err
		}
		requests, err := probelog.Requests(content, probelog.Stay{
			Name: "heatStays/" + upper(f.Value("stay")), Warmed: warmed, Limit: decimal(f.Value("limit_celsius")),
		}, s.zone)
		if err != nil {
			return "", err
		}
		if hottest := probelog.Hottest(requests); hottest > unlikelyHot && f.Value("hot") == "" {
			celsius := quantity.FormatFixed(hottest, 1, 1)
			return "", apierr.ReasonRequired("hot", fmt.Sprintf("it shows up to %s °C, that is %s °F: if it was written in Fahrenheit, name its column fahrenheit; "+
				"if it was that hot, say so below and give it again", celsius, fahrenheit(celsius)), nil)
		}
		for _, request := range requests {
			if _, err := s.inventory.RecordTemperatures(v.ctx, request); err != nil {
				return "", err
			}
		}
		if !v.mayCall(getHeat) { // a logger's login
			return "/", nil
		}
		return placeAddress(warmed[0]) + "/heat", nil
	})
}

// heatAllowed lists who let stays be scalding hot; just after somebody did, that stay alone.
func (s *site) heatAllowed(v *visit) (view, error) {
	query := v.URL.Query()
	request := &inventoryv1.ListHeatAllowancesRequest{PageSize: 30, PageToken: query.Get("page")}
	if stay := query.Get("stay"); stay != "" {
		request.Stay = "heatStays/" + upper(stay)
	}
	found, err := s.records.ListHeatAllowances(v.ctx, request)
	if err != nil {
		return view{}, err
	}
	return view{page: "heatallowed", title: "Scalding stays", data: map[string]any{
		"Allowances": found.GetAllowances(), "Next": nextPage(v, found.GetNextPageToken()), "Stay": idOf(request.GetStay()), "Done": query.Get("done") != "",
		"MayAllow": v.mayCall(allowHeat), "MayLog": v.mayCall(recordTemperatures), "Me": v.who.Actor().Login,
	}}, nil
}

// allowHeat is the word of the second person.
func (s *site) allowHeat(v *visit) (view, error) {
	f := v.form()
	return s.plainTask(v, f, "allowheat", "Allow a scalding stay", map[string]any{}, func() (string, error) {
		made, err := s.inventory.AllowHeat(v.ctx, &inventoryv1.AllowHeatRequest{
			RequestId: f.RequestID, Name: "heatStays/" + upper(f.Value("stay")), LimitCelsius: decimal(f.Value("limit_celsius")), Reason: f.Value("reason"),
		})
		return "/heat/allowed?" + url.Values{"stay": {idOf(made.GetStay())}, "done": {"yes"}}.Encode(), err
	})
}

// unlikelyHot is 80 °C, in tenths: no room is that hot, and what is recorded stays recorded. A file in the wrong unit shows it.
const unlikelyHot = 80_0

// warmedBy are scanned drums, or a tank's charge by its name.
func (s *site) warmedBy(v *visit, f *form) ([]string, error) {
	if charge := f.Value("charge"); charge != "" {
		return []string{charge}, nil
	}
	return s.scannedAll(v, f.Value("warmed"))
}

func pastedOrFile(v *visit, f *form) ([]byte, error) {
	if pasted := f.Value("readings"); pasted != "" {
		return []byte(pasted), nil
	}
	return chosenFile(v, "must be chosen, or its rows pasted")
}
