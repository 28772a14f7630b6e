package warehouse

import (
	"net/url"

	"barrelhead.example/gateway/internal/web/site"
	"barrelhead.example/gateway/internal/wording"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/quantity"
)

// The RPCs behind the pages of tanks, lots and the dispatch.
const (
	planBlend     = inventoryv1.InventoryService_PlanBlend_FullMethodName
	listTanks     = inventoryv1.InventoryService_ListTanks_FullMethodName
	createTank    = inventoryv1.InventoryService_CreateTank_FullMethodName
	openCharge    = inventoryv1.InventoryService_OpenCharge_FullMethodName
	fillCharge    = inventoryv1.InventoryService_FillCharge_FullMethodName
	correctHeel   = inventoryv1.InventoryService_CorrectHeel_FullMethodName
	transfer      = inventoryv1.InventoryService_TransferCharge_FullMethodName
	closeCharge   = inventoryv1.InventoryService_CloseCharge_FullMethodName
	getCharge     = inventoryv1.InventoryService_GetCharge_FullMethodName
	listLots      = inventoryv1.InventoryService_ListPackLots_FullMethodName
	startLot      = inventoryv1.InventoryService_StartPackLot_FullMethodName
	drawLot       = inventoryv1.InventoryService_DrawPackLot_FullMethodName
	returnRework  = inventoryv1.InventoryService_ReturnRework_FullMethodName
	closeLot      = inventoryv1.InventoryService_ClosePackLot_FullMethodName
	listLabels    = inventoryv1.InventoryService_ListLabels_FullMethodName
	createLabel   = inventoryv1.InventoryService_CreateLabel_FullMethodName
	listShipments = inventoryv1.InventoryService_ListShipments_FullMethodName
	ship          = inventoryv1.InventoryService_Ship_FullMethodName
)

// lotPages are what lies between the warehouse and the lorry.
func (s room) lotPages() map[string]site.Page {
	return map[string]site.Page{
		"/blend":                 {Needs: planBlend, Show: s.blend},
		"/tanks":                 {Needs: listTanks, Show: s.tanks},
		"/tanks/new":             {Needs: createTank, Show: s.newTank, Form: true},
		"/tanks/{id}":            {Needs: listTanks, Show: s.tank},
		"/tanks/{id}/open":       {Needs: openCharge, Show: s.openCharge, Form: true},
		"/charges/{id}":          {Needs: getCharge, Show: s.charge},
		"/charges/{id}/fill":     {Needs: fillCharge, Show: s.fillCharge, Form: true},
		"/charges/{id}/heel":     {Needs: correctHeel, Show: s.correctHeel, Form: true},
		"/charges/{id}/transfer": {Needs: transfer, Show: s.transferCharge, Form: true},
		"/charges/{id}/close":    {Needs: closeCharge, Show: s.closeCharge, Form: true},
		"/lots":                  {Needs: listLots, Show: s.lots},
		"/lots/new":              {Needs: startLot, Show: s.startLot, Form: true},
		"/lots/{id}":             {Needs: listLots, Show: s.lot},
		"/lots/{id}/draw":        {Needs: drawLot, Show: s.drawLot, Form: true},
		"/lots/{id}/rework":      {Needs: returnRework, Show: s.returnRework, Form: true},
		"/lots/{id}/close":       {Needs: closeLot, Show: s.closeLot, Form: true},
		"/labels":                {Needs: listLabels, Show: s.labels},
		"/labels/new":            {Needs: createLabel, Show: s.newLabel, Form: true},
		"/shipments":             {Needs: listShipments, Show: s.shipments},
		"/shipments/new":         {Needs: ship, Show: s.newShipment, Form: true},
	}
}

// tankView is a tank with how full it is drawn, in a hundred units of height.
type tankView struct {
	*inventoryv1.Tank
	Level, Top int64
	// Open is the address of its next filling, with what was planned.
	Open string
}

func drawTank(t *inventoryv1.Tank) tankView {
	content, _ := quantity.ParseMass(t.GetContent().GetValue())   // what cannot be read is drawn empty
	capacity, _ := quantity.ParseMass(t.GetCapacity().GetValue()) // and written beside it as it came
	level, err := quantity.MulDiv(int64(content), 100, int64(capacity))
	if err != nil {
		level = 0
	}
	level = min(max(level, 0), 100)
	return tankView{Tank: t, Level: level, Top: 100 - level}
}

func (s room) readTanks(v *site.Visit) ([]*inventoryv1.Tank, error) {
	found, err := s.Inventory.ListTanks(v.Ctx, &inventoryv1.ListTanksRequest{})
	return found.GetTanks(), err
}

func (s room) tanks(v *site.Visit) (site.View, error) {
	found, err := s.readTanks(v)
	if err != nil {
		return site.View{}, err
	}
	var total quantity.Mass
	var drawn []tankView
	for _, t := range found {
		content, _ := quantity.ParseMass(t.GetContent().GetValue()) // what cannot be read counts as nothing
		total += content
		tank := drawTank(t)
		if tank.Open = "/tanks/" + site.IDOf(t.GetName()) + "/open"; v.URL.RawQuery != "" {
			tank.Open += "?" + v.URL.Query().Encode()
		}
		drawn = append(drawn, tank)
	}
	return site.View{Page: "tanks", Title: "Tanks", Data: map[string]any{
		"Tanks": drawn, "Total": &typev1.Mass{Value: total.String(), Unit: s.Cooperative.Unit},
		"MayAdd": v.MayCall(createTank), "MayPlan": v.MayCall(planBlend), "MayOpen": v.MayCall(openCharge), "Planned": v.URL.RawQuery != "",
	}}, nil
}

func (s room) newTank(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.PlainTask(v, f, "newtank", "Enter a tank", map[string]any{}, func() (string, error) {
		_, err := s.Inventory.CreateTank(v.Ctx, &inventoryv1.CreateTankRequest{
			RequestId: f.RequestID, TankId: site.Upper(f.Value("tank_id")), Capacity: s.MassOr(f.Value("capacity")),
		})
		return "/tanks", err
	})
}

// tank is one tank with its fillings, newest first.
func (s room) tank(v *site.Visit) (site.View, error) {
	found, err := s.readTanks(v)
	if err != nil {
		return site.View{}, err
	}
	for _, t := range found {
		if t.GetName() != "tanks/"+v.PathValue("id") {
			continue
		}
		charges, err := s.Inventory.ListCharges(v.Ctx, &inventoryv1.ListChargesRequest{Tank: t.GetName(), PageSize: 30, PageToken: v.URL.Query().Get("page")})
		if err != nil {
			return site.View{}, err
		}
		return site.View{Page: "tank", Title: "Tank " + site.IDOf(t.GetName()), Data: map[string]any{
			"Tank": drawTank(t), "Charges": charges.GetCharges(), "Next": site.NextPage(v, charges.GetNextPageToken()), "MayOpen": v.MayCall(openCharge),
		}}, nil
	}
	return site.View{}, site.ErrNoPage
}

// typedRules reads what a blend must be; nothing typed is no rule.
func typedRules(f *site.Form) *inventoryv1.ClaimRules {
	return &inventoryv1.ClaimRules{
		Variety: f.Value("variety"), MinSharePercent: site.Number(f.Value("min_share_percent")), MaxMoisturePercent: site.Number(f.Value("max_moisture_percent")),
		MinPfundMm: site.Number(f.Value("min_pfund_mm")), MaxPfundMm: site.Number(f.Value("max_pfund_mm")),
	}
}

// openCharge begins a filling. What was left of the one before has to be said, if only that it was nothing.
func (s room) openCharge(v *site.Visit) (site.View, error) {
	f := v.Form()
	tank := "tanks/" + v.PathValue("id")
	return s.PlainTask(v, f, "opencharge", "Fill tank "+site.IDOf(tank), map[string]any{"Tank": tank}, func() (string, error) {
		picks, err := s.scannedAll(v, f.Value("picks"))
		if err != nil {
			return "", err
		}
		made, err := s.Inventory.OpenCharge(v.Ctx, &inventoryv1.OpenChargeRequest{
			RequestId: f.RequestID, Tank: tank, Heel: s.MassOr(f.Value("heel")), Rules: typedRules(f), Picks: picks,
		})
		return "/charges/" + site.IDOf(made.GetName()), err
	})
}

func (s room) charge(v *site.Visit) (site.View, error) {
	c, err := s.ReadCharge(v, "charges/"+v.PathValue("id"))
	if err != nil {
		return site.View{}, err
	}
	waiting, err := s.waiting(v, c.GetName())
	if err != nil {
		return site.View{}, err
	}
	open := c.GetState() == inventoryv1.LotState_LOT_STATE_OPEN
	free := open && len(c.GetHolds()) == 0 // a held charge takes and gives nothing but losses
	return site.View{Page: "charge", Title: "Charge " + c.GetCode(), Data: map[string]any{
		"Charge": c, "Open": open, "Picks": s.BarrelsOf(v, c.GetOpenPicks()), "Tags": s.TagsOf(v, substituted(c)), "Breaches": breaches(c),
		"MayFill": free && v.MayCall(fillCharge), "MayHeel": v.MayCall(correctHeel) && c.GetPrevious() != "", "MayTransfer": free && v.MayCall(transfer),
		"Done": s.done(v), "Waiting": waiting, "Own": "users/" + v.Who.Name, "MayDecide": v.MayCall(decideWriteOff),
		"MayClose": open && v.MayCall(closeCharge), "Empty": isZero(c.GetContent()), "MayLose": open && v.MayCall(recordLoss), "MayStart": free && v.MayCall(startLot), "MayTrace": v.MayCall(traceHoney), "MayHold": v.MayCall(placeHold), "MayHeat": v.MayCall(getHeat), "MayRelease": v.MayCall(releaseHold),
	}}, nil
}

// breaches are the rules the charge does not keep, with all that is still planned for it.
func breaches(c *inventoryv1.Charge) []inventoryv1.BlendLimit {
	if c.GetPlannedFigures() != nil {
		return c.GetPlannedFigures().GetBreaches()
	}
	return c.GetFigures().GetBreaches()
}

func substituted(c *inventoryv1.Charge) []string {
	var names []string
	for _, sub := range c.GetSubstitutions() {
		names = append(names, sub.GetPlannedItem(), sub.GetUsedItem())
	}
	return names
}

// fillCharge empties one barrel after the other into a tank. One that was not planned goes in only in place of one that was.
func (s room) fillCharge(v *site.Visit) (site.View, error) {
	f := v.Form()
	name := "charges/" + v.PathValue("id")
	if !v.Posted {
		f.Set("drained", "yes")
	}
	return s.Task(v, f, func() (string, error) {
		item, err := s.scanned(v, f.Value("drum_tag"))
		if err != nil {
			return "", err
		}
		_, err = s.Inventory.FillCharge(v.Ctx, &inventoryv1.FillChargeRequest{
			RequestId: f.RequestID, Name: name, StockItem: item, Mass: s.MassOr(f.Value("mass")), Drained: f.Value("drained") != "",
			Replaces: f.Value("replaces"), Reason: f.Value("reason"), ConfirmBreach: f.Value("confirm_breach") != "",
		})
		return "/charges/" + site.IDOf(name) + "/fill?in=" + url.QueryEscape(site.Upper(f.Value("drum_tag"))), err
	}, func() (site.View, error) {
		c, err := s.ReadCharge(v, name)
		if err != nil {
			return site.View{}, err
		}
		var options []site.Option
		picks := s.BarrelsOf(v, c.GetOpenPicks())
		for _, item := range picks {
			options = append(options, site.Option{Value: item.GetName(), Label: item.GetDrumTag()})
		}
		return site.View{Page: "fill", Title: "Fill tank " + site.IDOf(c.GetTank()), Data: map[string]any{
			"Form": f, "Charge": c, "Picks": options, "Barrels": picks, "Broken": breaches(c), "Breaks": f.Asked == "confirm_breach" || f.Value("confirm_breach") != "", "Unit": wording.Words(s.Cooperative.Unit), "In": v.URL.Query().Get("in"), "Substitute": f.Asked == "replaces" || f.Value("replaces") != "",
		}}, nil
	})
}

func (s room) correctHeel(v *site.Visit) (site.View, error) {
	f := v.Form()
	name := "charges/" + v.PathValue("id")
	return s.PlainTask(v, f, "heel", "Correct the heel", map[string]any{"Charge": name}, func() (string, error) {
		_, err := s.Inventory.CorrectHeel(v.Ctx, &inventoryv1.CorrectHeelRequest{
			RequestId: f.RequestID, Name: name, Mass: s.MassOr(f.Value("mass")), Reason: f.Value("reason"),
		})
		return "/" + name, err
	})
}

// openCharges are the fillings honey can be pumped, drawn or poured into now: the last one of each tank.
func (s room) openCharges(v *site.Visit, but string) ([]site.Option, error) {
	found, err := s.readTanks(v)
	if err != nil {
		return nil, err
	}
	var options []site.Option
	for _, t := range found {
		if t.GetCharge() != "" && t.GetCharge() != but {
			options = append(options, site.Option{Value: t.GetCharge(), Label: "Tank " + site.IDOf(t.GetName()) + ", " + wording.Screen.Mass(t.GetContent())})
		}
	}
	return options, nil
}

func (s room) transferCharge(v *site.Visit) (site.View, error) {
	f := v.Form()
	name := "charges/" + v.PathValue("id")
	tanks, err := s.openCharges(v, name)
	if err != nil {
		return site.View{}, err
	}
	return s.PlainTask(v, f, "transfer", "Pump to another tank", map[string]any{"Charge": name, "Tanks": tanks}, func() (string, error) {
		_, err := s.Inventory.TransferCharge(v.Ctx, &inventoryv1.TransferChargeRequest{
			RequestId: f.RequestID, Name: name, ToCharge: f.Value("to_charge"), Mass: s.MassOr(f.Value("mass")),
		})
		return "/" + name, err
	})
}

func (s room) closeCharge(v *site.Visit) (site.View, error) {
	f := v.Form()
	name := "charges/" + v.PathValue("id")
	return s.PlainTask(v, f, "closecharge", "Close the charge", map[string]any{"Charge": name}, func() (string, error) {
		_, err := s.Inventory.CloseCharge(v.Ctx, &inventoryv1.CloseChargeRequest{RequestId: f.RequestID, Name: name})
		return "/" + name, err
	})
}
