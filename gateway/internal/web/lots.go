package web

import (
	"net/url"
	"strconv"
	"strings"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

func upper(typed string) string { return strings.ToUpper(strings.TrimSpace(typed)) }

// decimal takes a comma for a point.
func decimal(typed string) string { return strings.ReplaceAll(typed, ",", ".") }

// placeAddress is the page of a place honey can be in; of one without a page, the trace.
func placeAddress(name string) string {
	kind, id, _ := strings.Cut(name, "/")
	switch kind {
	case "stock", "charges", "tanks", "pools", "runs", "pallets":
		return "/" + kind + "/" + id
	case "packLots":
		return "/lots/" + id
	case "shipments":
		return "/shipments"
	case "returns":
		return "/returns?all=1"
	default:
		return "/balance"
	}
}

func (s *site) lots(v *visit) (view, error) {
	found, err := s.inventory.ListPackLots(v.ctx, &inventoryv1.ListPackLotsRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	open := 0
	for _, lot := range found.GetPackLots() {
		if lot.GetState() == inventoryv1.LotState_LOT_STATE_OPEN {
			open++
		}
	}
	return view{page: "lots", title: "Pack lots", data: map[string]any{
		"Lots": found.GetPackLots(), "Running": open, "Next": nextPage(v, found.GetNextPageToken()), "MayStart": v.mayCall(startLot), "MayShip": v.mayCall(ship), "MayClear": v.mayCall(recordClearance),
	}}, nil
}

// startLot begins a run under a new code. The label's rules are asked here, before the first jar.
func (s *site) startLot(v *visit) (view, error) {
	f := v.form()
	tanks, err := s.openCharges(v, "")
	if err != nil {
		return view{}, err
	}
	labels, err := s.inventory.ListLabels(v.ctx, &inventoryv1.ListLabelsRequest{PageSize: 200})
	if err != nil {
		return view{}, err
	}
	var choices []option
	for _, l := range labels.GetLabels() {
		if l.GetApprover() != "" {
			choices = append(choices, option{Value: l.GetName(), Label: l.GetTitle() + ", " + idOf(l.GetName())})
		}
	}
	return s.plainTask(v, f, "startlot", "Start a run", map[string]any{"Tanks": tanks, "Labels": choices}, func() (string, error) {
		made, err := s.inventory.StartPackLot(v.ctx, &inventoryv1.StartPackLotRequest{
			RequestId: f.RequestID, Charge: f.Value("charge"), Label: f.Value("label"), Line: upper(f.Value("line")),
		})
		return "/lots/" + idOf(made.GetName()), err
	})
}

func (s *site) readLot(v *visit) (*inventoryv1.PackLot, error) {
	return s.inventory.GetPackLot(v.ctx, &inventoryv1.GetPackLotRequest{Name: "packLots/" + v.PathValue("id")})
}

func (s *site) lot(v *visit) (view, error) {
	lot, err := s.readLot(v)
	if err != nil {
		return view{}, err
	}
	waiting, err := s.waiting(v, lot.GetName())
	if err != nil {
		return view{}, err
	}
	open := lot.GetState() == inventoryv1.LotState_LOT_STATE_OPEN
	free := len(lot.GetHolds()) == 0 // a held lot takes and gives nothing but losses
	return view{page: "lot", title: "Lot " + lot.GetCode(), data: map[string]any{
		"Lot": lot, "Names": s.namesOf(v, lot.GetCharges()), "Open": open, "MayDraw": open && free && v.mayCall(drawLot), "MayRework": open && free && v.mayCall(returnRework), "MayClose": open && v.mayCall(closeLot),
		"MayLose": open && v.mayCall(recordLoss), "MayLoseJars": lot.GetJarsOnHand() > 0 && v.mayCall(recordLoss), "MayShip": !open && free && lot.GetJarsOnHand() > 0 && v.mayCall(ship), "MayTrace": v.mayCall(traceHoney), "MayHold": v.mayCall(placeHold), "MayRelease": v.mayCall(releaseHold), "MayNet": !open && v.mayCall(listNet),
		"Done": s.done(v), "Waiting": waiting, "Own": "users/" + v.who.Name, "MayDecide": v.mayCall(decideWriteOff),
		"MayWeigh": v.mayCall(listLineChecks), "MayStack": !open && free && lot.GetJarsOnHand() > 0 && v.mayCall(buildPallet),
	}}, nil
}

// lotTask is a form about one run. What act says of what was done is shown on the page of the run.
func (s *site) lotTask(v *visit, f *form, name, title string, act func(lot *inventoryv1.PackLot) (did string, err error)) (view, error) {
	lot, err := s.readLot(v)
	if err != nil {
		return view{}, err
	}
	tanks, err := s.openCharges(v, "")
	if err != nil {
		return view{}, err
	}
	if n := len(lot.GetCharges()); n > 0 {
		f.set("charge", lot.GetCharges()[n-1])
	}
	return s.plainTask(v, f, name, title+" "+lot.GetCode(), map[string]any{"Lot": lot, "Tanks": tanks}, func() (string, error) {
		did, err := act(lot)
		if did != "" {
			return didHere(lot.GetName(), url.Values{"done": {did}, "tank": {tankOf(tanks, f.Value("charge"))}}, s.massOr(f.Value("mass")), 0), err
		}
		return placeAddress(lot.GetName()), err
	})
}

// tankOf is the tank of a charge among those offered.
func tankOf(tanks []option, charge string) string {
	for _, o := range tanks {
		if o.Value == charge {
			name, _, _ := strings.Cut(strings.TrimPrefix(o.Label, "Tank "), ",")
			return name
		}
	}
	return ""
}

func (s *site) drawLot(v *visit) (view, error) {
	f := v.form()
	return s.lotTask(v, f, "drawlot", "Draw into", func(lot *inventoryv1.PackLot) (string, error) {
		_, err := s.inventory.DrawPackLot(v.ctx, &inventoryv1.DrawPackLotRequest{
			RequestId: f.RequestID, Name: lot.GetName(), Charge: f.Value("charge"), Mass: s.massOr(f.Value("mass")),
			ConfirmFurtherCharge: f.Value("confirm_further_charge") != "", Reason: f.Value("reason"),
		})
		return "drawn", err
	})
}

func (s *site) returnRework(v *visit) (view, error) {
	f := v.form()
	return s.lotTask(v, f, "rework", "Rework of", func(lot *inventoryv1.PackLot) (string, error) {
		_, err := s.inventory.ReturnRework(v.ctx, &inventoryv1.ReturnReworkRequest{
			RequestId: f.RequestID, Name: lot.GetName(), Charge: f.Value("charge"), Mass: s.massOr(f.Value("mass")),
		})
		return "poured", err
	})
}

func (s *site) closeLot(v *visit) (view, error) {
	f := v.form()
	return s.lotTask(v, f, "closelot", "Close", func(lot *inventoryv1.PackLot) (string, error) {
		_, err := s.inventory.ClosePackLot(v.ctx, &inventoryv1.ClosePackLotRequest{
			RequestId: f.RequestID, Name: lot.GetName(), Jars: count(f.Value("jars")), MeanNet: s.massOr(f.Value("mean_net")),
		})
		return "", err
	})
}

func (s *site) labels(v *visit) (view, error) {
	found, err := s.inventory.ListLabels(v.ctx, &inventoryv1.ListLabelsRequest{PageSize: 100, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	return view{page: "labels", title: "Labels", data: map[string]any{
		"Labels": found.GetLabels(), "Next": nextPage(v, found.GetNextPageToken()), "MayAdd": v.mayCall(createLabel), "MayApprove": v.mayCall(approveLabel),
	}}, nil
}

func (s *site) newLabel(v *visit) (view, error) {
	f := v.form()
	return s.plainTask(v, f, "newlabel", "Enter a label", map[string]any{}, func() (string, error) {
		_, err := s.inventory.CreateLabel(v.ctx, &inventoryv1.CreateLabelRequest{
			RequestId: f.RequestID, LabelId: upper(f.Value("label_id")), Title: f.Value("title"), Rules: typedRules(f), Face: typedFace(f),
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
func typedFace(f *form) *inventoryv1.LabelFace {
	face := &inventoryv1.LabelFace{
		Gtin: f.Value("gtin"), NetOunces: decimal(f.Value("net_ounces")), NetGrams: decimal(f.Value("net_grams")), Origin: f.Value("origin"),
		MaxCelsius: decimal(f.Value("max_celsius")), InfantCaution: f.Value("infant_caution") != "",
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

func (s *site) shipments(v *visit) (view, error) {
	found, err := s.inventory.ListShipments(v.ctx, &inventoryv1.ListShipmentsRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
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
	return view{page: "shipments", title: "Shipments", data: map[string]any{
		"Codes": s.codesOf(v, lots), "Bulk": s.namesOf(v, bulk), "Shipments": found.GetShipments(), "Next": nextPage(v, found.GetNextPageToken()), "MayShip": v.mayCall(ship), "MaySell": v.mayCall(listSales), "MayReturn": v.mayCall(receiveReturn), "MayTrace": v.mayCall(traceHoney), "Sent": v.URL.Query().Get("sent"),
	}}, nil
}

// codesOf gives lots the codes people know them by. One that cannot be read is shown by its name.
func (s *site) codesOf(v *visit, names []string) map[string]string {
	codes := map[string]string{}
	for _, name := range names {
		if _, known := codes[name]; known {
			continue
		}
		codes[name] = thing(name)
		if len(codes) > mostPlacesAsked {
			continue
		}
		if lot, err := s.inventory.GetPackLot(v.ctx, &inventoryv1.GetPackLotRequest{Name: name}); err == nil {
			codes[name] = lot.GetCode()
		}
	}
	return codes
}

// newShipment takes the code on the jars and how many, one lot a line, as a pallet list reads.
func (s *site) newShipment(v *visit) (view, error) {
	f := v.form()
	d := map[string]any{}
	if order := f.Value("order"); order != "" {
		d["Order"] = s.readOrder(v, order)
	}
	return s.plainTask(v, f, "newshipment", "Ship", d, func() (string, error) {
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
		made, err := s.inventory.Ship(v.ctx, request)
		return "/shipments?" + url.Values{"sent": {made.GetCustomer()}}.Encode(), err
	})
}

// bulkLines takes barrels by tag, whole or in part, and tanks with the weight and what it left in.
func (s *site) bulkLines(v *visit, f *form, request *inventoryv1.ShipRequest) error {
	for n, cells := range linesOf(f.Value("bulk")) {
		if len(cells) == 1 {
			cells = strings.SplitN(cells[0], " ", 3)
		}
		line := &inventoryv1.BulkLine{}
		if len(cells) > 1 {
			line.Mass = s.massOr(strings.TrimSpace(cells[1]))
		}
		if len(cells) > 2 {
			line.Containers = strings.TrimSpace(cells[2])
		}
		if line.Place = strings.TrimSpace(cells[0]); !strings.Contains(line.GetPlace(), "/") {
			item, err := s.scanned(v, line.GetPlace())
			if err != nil {
				f.badLine("bulk", n, "tag, weight and containers")
				return badLines(f)
			}
			line.Place = item
		}
		request.BulkLines = append(request.BulkLines, line)
	}
	return nil
}
