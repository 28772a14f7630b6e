package web

import (
	"net/url"
	"strconv"

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

// lotPages are the rooms between the warehouse and the lorry.
func (s *site) lotPages() map[string]page {
	return map[string]page{
		"/blend":                 {needs: planBlend, show: s.blend},
		"/tanks":                 {needs: listTanks, show: s.tanks},
		"/tanks/new":             {needs: createTank, show: s.newTank, form: true},
		"/tanks/{id}":            {needs: listTanks, show: s.tank},
		"/tanks/{id}/open":       {needs: openCharge, show: s.openCharge, form: true},
		"/charges/{id}":          {needs: getCharge, show: s.charge},
		"/charges/{id}/fill":     {needs: fillCharge, show: s.fillCharge, form: true},
		"/charges/{id}/heel":     {needs: correctHeel, show: s.correctHeel, form: true},
		"/charges/{id}/transfer": {needs: transfer, show: s.transferCharge, form: true},
		"/charges/{id}/close":    {needs: closeCharge, show: s.closeCharge, form: true},
		"/lots":                  {needs: listLots, show: s.lots},
		"/lots/new":              {needs: startLot, show: s.startLot, form: true},
		"/lots/{id}":             {needs: listLots, show: s.lot},
		"/lots/{id}/draw":        {needs: drawLot, show: s.drawLot, form: true},
		"/lots/{id}/rework":      {needs: returnRework, show: s.returnRework, form: true},
		"/lots/{id}/close":       {needs: closeLot, show: s.closeLot, form: true},
		"/labels":                {needs: listLabels, show: s.labels},
		"/labels/new":            {needs: createLabel, show: s.newLabel, form: true},
		"/shipments":             {needs: listShipments, show: s.shipments},
		"/shipments/new":         {needs: ship, show: s.newShipment, form: true},
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

func (s *site) readTanks(v *visit) ([]*inventoryv1.Tank, error) {
	found, err := s.inventory.ListTanks(v.ctx, &inventoryv1.ListTanksRequest{})
	return found.GetTanks(), err
}

func (s *site) tanks(v *visit) (view, error) {
	found, err := s.readTanks(v)
	if err != nil {
		return view{}, err
	}
	var total quantity.Mass
	var drawn []tankView
	for _, t := range found {
		content, _ := quantity.ParseMass(t.GetContent().GetValue()) // what cannot be read counts as nothing
		total += content
		tank := drawTank(t)
		if tank.Open = "/tanks/" + idOf(t.GetName()) + "/open"; v.URL.RawQuery != "" {
			tank.Open += "?" + v.URL.Query().Encode()
		}
		drawn = append(drawn, tank)
	}
	return view{page: "tanks", title: "Tanks", data: map[string]any{
		"Tanks": drawn, "Total": &typev1.Mass{Value: total.String(), Unit: s.Cooperative.Unit},
		"MayAdd": v.mayCall(createTank), "MayPlan": v.mayCall(planBlend), "MayOpen": v.mayCall(openCharge), "Planned": v.URL.RawQuery != "",
	}}, nil
}

func (s *site) newTank(v *visit) (view, error) {
	f := v.form()
	return s.plainTask(v, f, "newtank", "Enter a tank", map[string]any{}, func() (string, error) {
		_, err := s.inventory.CreateTank(v.ctx, &inventoryv1.CreateTankRequest{
			RequestId: f.RequestID, TankId: upper(f.Value("tank_id")), Capacity: s.massOr(f.Value("capacity")),
		})
		return "/tanks", err
	})
}

// tank is one tank with its fillings, newest first.
func (s *site) tank(v *visit) (view, error) {
	found, err := s.readTanks(v)
	if err != nil {
		return view{}, err
	}
	for _, t := range found {
		if t.GetName() != "tanks/"+v.PathValue("id") {
			continue
		}
		charges, err := s.inventory.ListCharges(v.ctx, &inventoryv1.ListChargesRequest{Tank: t.GetName(), PageSize: 30, PageToken: v.URL.Query().Get("page")})
		if err != nil {
			return view{}, err
		}
		return view{page: "tank", title: "Tank " + idOf(t.GetName()), data: map[string]any{
			"Tank": drawTank(t), "Charges": charges.GetCharges(), "Next": nextPage(v, charges.GetNextPageToken()), "MayOpen": v.mayCall(openCharge),
		}}, nil
	}
	return view{}, errNoPage
}

// typedRules reads what a blend must be; nothing typed is no rule.
func typedRules(f *form) *inventoryv1.ClaimRules {
	return &inventoryv1.ClaimRules{
		Variety: f.Value("variety"), MinSharePercent: decimal(f.Value("min_share_percent")), MaxMoisturePercent: decimal(f.Value("max_moisture_percent")),
		MinPfundMm: decimal(f.Value("min_pfund_mm")), MaxPfundMm: decimal(f.Value("max_pfund_mm")),
	}
}

// openCharge begins a filling. What was left of the one before has to be said, if only that it was nothing.
func (s *site) openCharge(v *visit) (view, error) {
	f := v.form()
	tank := "tanks/" + v.PathValue("id")
	return s.plainTask(v, f, "opencharge", "Fill tank "+idOf(tank), map[string]any{"Tank": tank}, func() (string, error) {
		picks, err := s.scannedAll(v, f.Value("picks"))
		if err != nil {
			return "", err
		}
		made, err := s.inventory.OpenCharge(v.ctx, &inventoryv1.OpenChargeRequest{
			RequestId: f.RequestID, Tank: tank, Heel: s.massOr(f.Value("heel")), Rules: typedRules(f), Picks: picks,
		})
		return "/charges/" + idOf(made.GetName()), err
	})
}

func (s *site) readCharge(v *visit, name string) (*inventoryv1.Charge, error) {
	return s.inventory.GetCharge(v.ctx, &inventoryv1.GetChargeRequest{Name: name})
}

func (s *site) charge(v *visit) (view, error) {
	c, err := s.readCharge(v, "charges/"+v.PathValue("id"))
	if err != nil {
		return view{}, err
	}
	waiting, err := s.waiting(v, c.GetName())
	if err != nil {
		return view{}, err
	}
	open := c.GetState() == inventoryv1.LotState_LOT_STATE_OPEN
	free := open && len(c.GetHolds()) == 0 // a held charge takes and gives nothing but losses
	return view{page: "charge", title: "Charge " + c.GetCode(), data: map[string]any{
		"Charge": c, "Open": open, "Picks": s.barrelsOf(v, c.GetOpenPicks()), "Tags": s.tagsOf(v, substituted(c)), "Breaches": breaches(c),
		"MayFill": free && v.mayCall(fillCharge), "MayHeel": v.mayCall(correctHeel) && c.GetPrevious() != "", "MayTransfer": free && v.mayCall(transfer),
		"Done": s.done(v), "Waiting": waiting, "Own": "users/" + v.who.Name, "MayDecide": v.mayCall(decideWriteOff),
		"MayClose": open && v.mayCall(closeCharge), "Empty": isZero(c.GetContent()), "MayLose": open && v.mayCall(recordLoss), "MayStart": free && v.mayCall(startLot), "MayTrace": v.mayCall(traceHoney), "MayHold": v.mayCall(placeHold), "MayHeat": v.mayCall(getHeat), "MayRelease": v.mayCall(releaseHold),
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
func (s *site) fillCharge(v *visit) (view, error) {
	f := v.form()
	name := "charges/" + v.PathValue("id")
	if !v.posted {
		f.set("drained", "yes")
	}
	return s.task(v, f, func() (string, error) {
		item, err := s.scanned(v, f.Value("drum_tag"))
		if err != nil {
			return "", err
		}
		_, err = s.inventory.FillCharge(v.ctx, &inventoryv1.FillChargeRequest{
			RequestId: f.RequestID, Name: name, StockItem: item, Mass: s.massOr(f.Value("mass")), Drained: f.Value("drained") != "",
			Replaces: f.Value("replaces"), Reason: f.Value("reason"), ConfirmBreach: f.Value("confirm_breach") != "",
		})
		return "/charges/" + idOf(name) + "/fill?in=" + url.QueryEscape(upper(f.Value("drum_tag"))), err
	}, func() (view, error) {
		c, err := s.readCharge(v, name)
		if err != nil {
			return view{}, err
		}
		var options []option
		picks := s.barrelsOf(v, c.GetOpenPicks())
		for _, item := range picks {
			options = append(options, option{Value: item.GetName(), Label: item.GetDrumTag()})
		}
		return view{page: "fill", title: "Fill tank " + idOf(c.GetTank()), data: map[string]any{
			"Form": f, "Charge": c, "Picks": options, "Barrels": picks, "Broken": breaches(c), "Breaks": f.Asked == "confirm_breach" || f.Value("confirm_breach") != "", "Unit": words(s.Cooperative.Unit), "In": v.URL.Query().Get("in"), "Substitute": f.Asked == "replaces" || f.Value("replaces") != "",
		}}, nil
	})
}

func (s *site) correctHeel(v *visit) (view, error) {
	f := v.form()
	name := "charges/" + v.PathValue("id")
	return s.plainTask(v, f, "heel", "Correct the heel", map[string]any{"Charge": name}, func() (string, error) {
		_, err := s.inventory.CorrectHeel(v.ctx, &inventoryv1.CorrectHeelRequest{
			RequestId: f.RequestID, Name: name, Mass: s.massOr(f.Value("mass")), Reason: f.Value("reason"),
		})
		return "/" + name, err
	})
}

// openCharges are the fillings honey can be pumped, drawn or poured into now: the last one of each tank.
func (s *site) openCharges(v *visit, but string) ([]option, error) {
	found, err := s.readTanks(v)
	if err != nil {
		return nil, err
	}
	var options []option
	for _, t := range found {
		if t.GetCharge() != "" && t.GetCharge() != but {
			options = append(options, option{Value: t.GetCharge(), Label: "Tank " + idOf(t.GetName()) + ", " + mass(t.GetContent())})
		}
	}
	return options, nil
}

func (s *site) transferCharge(v *visit) (view, error) {
	f := v.form()
	name := "charges/" + v.PathValue("id")
	tanks, err := s.openCharges(v, name)
	if err != nil {
		return view{}, err
	}
	return s.plainTask(v, f, "transfer", "Pump to another tank", map[string]any{"Charge": name, "Tanks": tanks}, func() (string, error) {
		_, err := s.inventory.TransferCharge(v.ctx, &inventoryv1.TransferChargeRequest{
			RequestId: f.RequestID, Name: name, ToCharge: f.Value("to_charge"), Mass: s.massOr(f.Value("mass")),
		})
		return "/" + name, err
	})
}

func (s *site) closeCharge(v *visit) (view, error) {
	f := v.form()
	name := "charges/" + v.PathValue("id")
	return s.plainTask(v, f, "closecharge", "Close the charge", map[string]any{"Charge": name}, func() (string, error) {
		_, err := s.inventory.CloseCharge(v.ctx, &inventoryv1.CloseChargeRequest{RequestId: f.RequestID, Name: name})
		return "/" + name, err
	})
}

// few is count for numbers nobody means when they are very large; below zero stays below zero, for the service to refuse.
func few(typed string) int32 { return int32(max(min(count(typed), 1<<20), -1)) }

// count reads a whole number; what is none is refused by its range.
func count(typed string) int64 {
	n, _ := strconv.ParseInt(typed, 10, 64) // zero is below every least value
	return n
}
