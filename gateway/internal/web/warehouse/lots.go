package warehouse

import (
	"net/url"
	"strconv"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

func (s room) lots(v *site.Visit) (site.View, error) {
	found, err := s.Inventory.ListPackLots(v.Ctx, &inventoryv1.ListPackLotsRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	open := 0
	for _, lot := range found.GetPackLots() {
		if lot.GetState() == inventoryv1.LotState_LOT_STATE_OPEN {
			open++
		}
	}
	return site.View{Page: "lots", Title: "Pack lots", Data: map[string]any{
		"Lots": found.GetPackLots(), "Running": open, "Next": site.NextPage(v, found.GetNextPageToken()), "MayStart": v.MayCall(startLot), "MayShip": v.MayCall(ship), "MayClear": v.MayCall(recordClearance),
	}}, nil
}

// startLot begins a run under a new code. The label's rules are asked here, before the first jar.
func (s room) startLot(v *site.Visit) (site.View, error) {
	f := v.Form()
	tanks, err := s.openCharges(v, "")
	if err != nil {
		return site.View{}, err
	}
	labels, err := s.Inventory.ListLabels(v.Ctx, &inventoryv1.ListLabelsRequest{PageSize: 200})
	if err != nil {
		return site.View{}, err
	}
	var choices []site.Option
	for _, l := range labels.GetLabels() {
		if l.GetApprover() != "" {
			choices = append(choices, site.Option{Value: l.GetName(), Label: l.GetTitle() + ", " + site.IDOf(l.GetName())})
		}
	}
	return s.PlainTask(v, f, "startlot", "Start a run", map[string]any{"Tanks": tanks, "Labels": choices}, func() (string, error) {
		made, err := s.Inventory.StartPackLot(v.Ctx, &inventoryv1.StartPackLotRequest{
			RequestId: f.RequestID, Charge: f.Value("charge"), Label: f.Value("label"), Line: site.Upper(f.Value("line")),
		})
		return "/lots/" + site.IDOf(made.GetName()), err
	})
}

func (s room) readLot(v *site.Visit) (*inventoryv1.PackLot, error) {
	return s.Inventory.GetPackLot(v.Ctx, &inventoryv1.GetPackLotRequest{Name: "packLots/" + v.PathValue("id")})
}

func (s room) lot(v *site.Visit) (site.View, error) {
	lot, err := s.readLot(v)
	if err != nil {
		return site.View{}, err
	}
	waiting, err := s.waiting(v, lot.GetName())
	if err != nil {
		return site.View{}, err
	}
	open := lot.GetState() == inventoryv1.LotState_LOT_STATE_OPEN
	free := len(lot.GetHolds()) == 0 // a held lot takes and gives nothing but losses
	return site.View{Page: "lot", Title: "Lot " + lot.GetCode(), Data: map[string]any{
		"Lot": lot, "Names": s.NamesOf(v, lot.GetCharges()), "Open": open, "MayDraw": open && free && v.MayCall(drawLot), "MayRework": open && free && v.MayCall(returnRework), "MayClose": open && v.MayCall(closeLot),
		"MayLose": open && v.MayCall(recordLoss), "MayLoseJars": lot.GetJarsOnHand() > 0 && v.MayCall(recordLoss), "MayShip": !open && free && lot.GetJarsOnHand() > 0 && v.MayCall(ship), "MayTrace": v.MayCall(traceHoney), "MayHold": v.MayCall(placeHold), "MayRelease": v.MayCall(releaseHold), "MayNet": !open && v.MayCall(listNet),
		"Done": s.done(v), "Waiting": waiting, "Own": "users/" + v.Who.Name, "MayDecide": v.MayCall(decideWriteOff),
		"MayWeigh": v.MayCall(listLineChecks), "MayStack": !open && free && lot.GetJarsOnHand() > 0 && v.MayCall(buildPallet),
	}}, nil
}

// lotTask is a form about one run. What act says of what was done is shown on the page of the run.
func (s room) lotTask(v *site.Visit, f *site.Form, name, title string, act func(lot *inventoryv1.PackLot) (did string, err error)) (site.View, error) {
	lot, err := s.readLot(v)
	if err != nil {
		return site.View{}, err
	}
	tanks, err := s.openCharges(v, "")
	if err != nil {
		return site.View{}, err
	}
	if n := len(lot.GetCharges()); n > 0 {
		f.Set("charge", lot.GetCharges()[n-1])
	}
	return s.PlainTask(v, f, name, title+" "+lot.GetCode(), map[string]any{"Lot": lot, "Tanks": tanks}, func() (string, error) {
		did, err := act(lot)
		if did != "" {
			return didHere(lot.GetName(), url.Values{"done": {did}, "tank": {tankOf(tanks, f.Value("charge"))}}, s.MassOr(f.Value("mass")), 0), err
		}
		return site.PlaceAddress(lot.GetName()), err
	})
}

// tankOf is the tank of a charge among those offered.
func tankOf(tanks []site.Option, charge string) string {
	for _, o := range tanks {
		if o.Value == charge {
			name, _, _ := strings.Cut(strings.TrimPrefix(o.Label, "Tank "), ",")
			return name
		}
	}
	return ""
}

func (s room) drawLot(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.lotTask(v, f, "drawlot", "Draw into", func(lot *inventoryv1.PackLot) (string, error) {
		_, err := s.Inventory.DrawPackLot(v.Ctx, &inventoryv1.DrawPackLotRequest{
			RequestId: f.RequestID, Name: lot.GetName(), Charge: f.Value("charge"), Mass: s.MassOr(f.Value("mass")),
			ConfirmFurtherCharge: f.Value("confirm_further_charge") != "", Reason: f.Value("reason"),
		})
		return "drawn", err
	})
}

func (s room) returnRework(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.lotTask(v, f, "rework", "Rework of", func(lot *inventoryv1.PackLot) (string, error) {
		_, err := s.Inventory.ReturnRework(v.Ctx, &inventoryv1.ReturnReworkRequest{
			RequestId: f.RequestID, Name: lot.GetName(), Charge: f.Value("charge"), Mass: s.MassOr(f.Value("mass")),
		})
		return "poured", err
	})
}

func (s room) closeLot(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.lotTask(v, f, "closelot", "Close", func(lot *inventoryv1.PackLot) (string, error) {
		_, err := s.Inventory.ClosePackLot(v.Ctx, &inventoryv1.ClosePackLotRequest{
			RequestId: f.RequestID, Name: lot.GetName(), Jars: site.Count(f.Value("jars")), MeanNet: s.MassOr(f.Value("mean_net")),
		})
		return "", err
	})
}

func (s room) labels(v *site.Visit) (site.View, error) {
	found, err := s.Inventory.ListLabels(v.Ctx, &inventoryv1.ListLabelsRequest{PageSize: 100, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "labels", Title: "Labels", Data: map[string]any{
		"Labels": found.GetLabels(), "Next": site.NextPage(v, found.GetNextPageToken()), "MayAdd": v.MayCall(createLabel), "MayApprove": v.MayCall(approveLabel),
	}}, nil
}

func (s room) newLabel(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.PlainTask(v, f, "newlabel", "Enter a label", map[string]any{}, func() (string, error) {
		_, err := s.Inventory.CreateLabel(v.Ctx, &inventoryv1.CreateLabelRequest{
			RequestId: f.RequestID, LabelId: site.Upper(f.Value("label_id")), Title: f.Value("title"), Rules: typedRules(f), Face: typedFace(f),
			ShelfLifeMonths: months(f.Value("shelf_life_months")),
		})
		return "/labels", err
	})
}

// months reads how long honey keeps; what cannot be read is below what the service takes, and refused by it.
func months(typed string) int32 {
	if typed == "" {
		return 0
	}
	n, err := strconv.ParseInt(typed, 10, 32)
	if err != nil {
		return -1
	}
	return int32(n)
}

// typedFace reads what is printed.
func typedFace(f *site.Form) *inventoryv1.LabelFace {
	face := &inventoryv1.LabelFace{
		Gtin: f.Value("gtin"), NetOunces: site.Number(f.Value("net_ounces")), NetGrams: site.Number(f.Value("net_grams")), Origin: f.Value("origin"),
		MaxCelsius: site.Number(f.Value("max_celsius")), InfantCaution: f.Value("infant_caution") != "",
		CertifiedClaims: listed(f.Value("certified_claims")),
	}
	if f.Value("variety") != "" {
		face.Claims = append(face.Claims, inventoryv1.LabelClaim_LABEL_CLAIM_FLORAL_SOURCE)
	}
	if face.GetMaxCelsius() != "" {
		face.Claims = append(face.Claims, inventoryv1.LabelClaim_LABEL_CLAIM_RAW)
	}
	return face
}

func (s room) shipments(v *site.Visit) (site.View, error) {
	found, err := s.Inventory.ListShipments(v.Ctx, &inventoryv1.ListShipmentsRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	var lots, bulk []string
	for _, one := range found.GetShipments() {
		for _, l := range one.GetLines() {
			lots = append(lots, l.GetPackLot())
		}
		for _, b := range one.GetBulkLines() {
			bulk = append(bulk, b.GetPlace())
		}
	}
	return site.View{Page: "shipments", Title: "Shipments", Data: map[string]any{
		"Codes": s.codesOf(v, lots), "Bulk": s.NamesOf(v, bulk), "Shipments": found.GetShipments(), "Next": site.NextPage(v, found.GetNextPageToken()), "MayShip": v.MayCall(ship), "MaySell": v.MayCall(listSales), "MayReturn": v.MayCall(receiveReturn), "MayTrace": v.MayCall(traceHoney), "Sent": v.URL.Query().Get("sent"),
	}}, nil
}

// codesOf gives lots the codes people know them by. One that cannot be read is shown by its name.
func (s room) codesOf(v *site.Visit, names []string) map[string]string {
	codes := map[string]string{}
	for _, name := range names {
		if _, known := codes[name]; known {
			continue
		}
		codes[name] = site.Thing(name)
		if len(codes) > site.MostPlacesAsked {
			continue
		}
		if lot, err := s.Inventory.GetPackLot(v.Ctx, &inventoryv1.GetPackLotRequest{Name: name}); err == nil {
			codes[name] = lot.GetCode()
		}
	}
	return codes
}

// newShipment takes the code on the jars and how many, one lot a line, as a pallet list reads.
func (s room) newShipment(v *site.Visit) (site.View, error) {
	f := v.Form()
	d := map[string]any{}
	if order := f.Value("order"); order != "" {
		d["Order"] = s.readOrder(v, order)
	}
	return s.PlainTask(v, f, "newshipment", "Ship", d, func() (string, error) {
		request := &inventoryv1.ShipRequest{
			RequestId: f.RequestID, Order: f.Value("order"), Customer: f.Value("customer"), RecallContact: f.Value("recall_contact"), Carrier: f.Value("carrier"),
			CarrierAddress: f.Value("carrier_address"), CarrierTelephone: f.Value("carrier_telephone"),
		}
		for _, code := range strings.Fields(f.Value("pallets")) {
			request.Pallets = append(request.Pallets, "pallets/"+palletScan(code))
		}
		err := s.lotLines(v, f, func(lot *inventoryv1.PackLot, jars int64) {
			request.Lines = append(request.Lines, &inventoryv1.ShipmentLine{PackLot: lot.GetName(), Jars: jars})
		})
		if err != nil {
			return "", err
		}
		if err := s.bulkLines(v, f, request); err != nil {
			return "", err
		}
		made, err := s.Inventory.Ship(v.Ctx, request)
		return "/shipments?" + url.Values{"sent": {made.GetCustomer()}}.Encode(), err
	})
}

// bulkLines takes barrels by tag, whole or in part, and tanks with the weight and what it left in.
func (s room) bulkLines(v *site.Visit, f *site.Form, request *inventoryv1.ShipRequest) error {
	for n, cells := range site.LinesOf(f.Value("bulk")) {
		if len(cells) == 1 {
			cells = strings.SplitN(cells[0], " ", 3)
		}
		line := &inventoryv1.BulkLine{}
		if len(cells) > 1 {
			line.Mass = s.MassOr(strings.TrimSpace(cells[1]))
		}
		if len(cells) > 2 {
			line.Containers = strings.TrimSpace(cells[2])
		}
		if line.Place = strings.TrimSpace(cells[0]); !strings.Contains(line.GetPlace(), "/") {
			item, err := s.scanned(v, line.GetPlace())
			if err != nil {
				f.BadLine("bulk", n, "tag, weight and containers")
				return badLines(f)
			}
			line.Place = item
		}
		request.BulkLines = append(request.BulkLines, line)
	}
	return nil
}
