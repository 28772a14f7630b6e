package warehouse

import (
	"cmp"
	"fmt"
	"net/url"

	"barrelhead.example/gateway/internal/probelog"
	"barrelhead.example/gateway/internal/web/site"
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
func (s room) keptPages() map[string]site.Page {
	return map[string]site.Page{
		"/balances":       {Needs: listBalances, Show: s.balances},
		"/side-goods":     {Needs: listSide, Show: s.sideGoods},
		"/side-goods/new": {Needs: recordSide, Show: s.newSideGood, Form: true},
		"/heat/new":       {Needs: recordTemperatures, Show: s.newHeat, Form: true},
		"/heat/allowed":   {Needs: listAllowances, Show: s.heatAllowed},
		"/heat/allow":     {Needs: allowHeat, Show: s.allowHeat, Form: true},
	}
}

// balanceKinds are what a balance can be of, by the word in the address.
var balanceKinds = map[string]inventoryv1.BalanceBy{
	"run": inventoryv1.BalanceBy_BALANCE_BY_RUN, "tank": inventoryv1.BalanceBy_BALANCE_BY_TANK, "month": inventoryv1.BalanceBy_BALANCE_BY_MONTH,
}

func (s room) balances(v *site.Visit) (site.View, error) {
	by := v.URL.Query().Get("by")
	kind, known := balanceKinds[by]
	if !known {
		by, kind = "run", inventoryv1.BalanceBy_BALANCE_BY_RUN
	}
	found, err := s.Records.ListBalances(v.Ctx, &inventoryv1.ListBalancesRequest{By: kind, PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	over := 0
	for _, b := range found.GetBalances() {
		if b.GetOverLimit() {
			over++
		}
	}
	return site.View{Page: "balances", Title: "Mass balance", Data: map[string]any{
		"By": by, "Balances": found.GetBalances(), "Over": over, "Next": site.NextPage(v, found.GetNextPageToken()),
	}}, nil
}

// newHeat takes the file of a temperature logger, or its rows pasted.
func (s room) newHeat(v *site.Visit) (site.View, error) {
	f := v.Form()
	d := map[string]any{}
	if charge := f.Value("charge"); charge != "" {
		d["Charge"], d["Back"] = cmp.Or(s.NamesOf(v, []string{charge})[charge], site.Thing(charge)), site.PlaceAddress(charge)
	}
	return s.PlainTask(v, f, "newheat", "Log a warm room", d, func() (string, error) {
		warmed, err := s.warmedBy(v, f)
		if err != nil {
			return "", err
		}
		content, err := pastedOrFile(v, f)
		if err != nil {
			return "", err
		}
		requests, err := probelog.Requests(content, probelog.Stay{
			Name: "heatStays/" + site.Upper(f.Value("stay")), Warmed: warmed, Limit: site.Number(f.Value("limit_celsius")),
		}, s.Zone)
		if err != nil {
			return "", err
		}
		if hottest := probelog.Hottest(requests); hottest > unlikelyHot && f.Value("hot") == "" {
			celsius := quantity.FormatFixed(hottest, 1, 1)
			return "", apierr.ReasonRequired("hot", fmt.Sprintf("it shows up to %s °C, that is %s °F: if it was written in Fahrenheit, name its column fahrenheit; "+
				"if it was that hot, say so below and give it again", celsius, site.Fahrenheit(celsius)), nil)
		}
		for _, request := range requests {
			if _, err := s.Inventory.RecordTemperatures(v.Ctx, request); err != nil {
				return "", err
			}
		}
		if !v.MayCall(getHeat) { // a logger's login
			return "/", nil
		}
		return site.PlaceAddress(warmed[0]) + "/heat", nil
	})
}

// heatAllowed lists who let stays be scalding hot; just after somebody did, that stay alone.
func (s room) heatAllowed(v *site.Visit) (site.View, error) {
	query := v.URL.Query()
	request := &inventoryv1.ListHeatAllowancesRequest{PageSize: 30, PageToken: query.Get("page")}
	if stay := query.Get("stay"); stay != "" {
		request.Stay = "heatStays/" + site.Upper(stay)
	}
	found, err := s.Records.ListHeatAllowances(v.Ctx, request)
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "heatallowed", Title: "Scalding stays", Data: map[string]any{
		"Allowances": found.GetAllowances(), "Next": site.NextPage(v, found.GetNextPageToken()), "Stay": site.IDOf(request.GetStay()), "Done": query.Get("done") != "",
		"MayAllow": v.MayCall(allowHeat), "MayLog": v.MayCall(recordTemperatures), "Me": v.Who.Actor().Login,
	}}, nil
}

// allowHeat is the word of the second person.
func (s room) allowHeat(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.PlainTask(v, f, "allowheat", "Allow a scalding stay", map[string]any{}, func() (string, error) {
		made, err := s.Inventory.AllowHeat(v.Ctx, &inventoryv1.AllowHeatRequest{
			RequestId: f.RequestID, Name: "heatStays/" + site.Upper(f.Value("stay")), LimitCelsius: site.Number(f.Value("limit_celsius")), Reason: f.Value("reason"),
		})
		return "/heat/allowed?" + url.Values{"stay": {site.IDOf(made.GetStay())}, "done": {"yes"}}.Encode(), err
	})
}

// unlikelyHot is 80 °C, in tenths: no room is that hot, and what is recorded stays recorded. A file in the wrong unit shows it.
const unlikelyHot = 80_0

// warmedBy are scanned drums, or a tank's charge by its name.
func (s room) warmedBy(v *site.Visit, f *site.Form) ([]string, error) {
	if charge := f.Value("charge"); charge != "" {
		return []string{charge}, nil
	}
	return s.scannedAll(v, f.Value("warmed"))
}

func pastedOrFile(v *site.Visit, f *site.Form) ([]byte, error) {
	if pasted := f.Value("readings"); pasted != "" {
		return []byte(pasted), nil
	}
	return site.ChosenFile(v, "must be chosen, or its rows pasted")
}
