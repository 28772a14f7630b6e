package web

import (
	"net/url"
	"strconv"
	"strings"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

const (
	listClearances  = inventoryv1.PackingService_ListLineClearances_FullMethodName
	recordClearance = inventoryv1.PackingService_RecordLineClearance_FullMethodName
	listLineChecks  = inventoryv1.PackingService_ListLineChecks_FullMethodName
	checkLine       = inventoryv1.PackingService_CheckLine_FullMethodName
	listPallets     = inventoryv1.PackingService_ListPallets_FullMethodName
	buildPallet     = inventoryv1.PackingService_BuildPallet_FullMethodName
	breakPallet     = inventoryv1.PackingService_BreakPallet_FullMethodName
)

// linePages are what the line shows before and while a lot runs, and the pallets its jars are stacked on.
func (s *site) linePages() map[string]page {
	return map[string]page{
		"/clearances":          {needs: listClearances, show: s.clearances},
		"/clearances/new":      {needs: recordClearance, show: s.newClearance, form: true},
		"/lots/{id}/weigh":     {needs: listLineChecks, show: s.lineChecks},
		"/lots/{id}/weigh/new": {needs: checkLine, show: s.checkLine, form: true},
		"/pallets":             {needs: listPallets, show: s.pallets},
		"/pallets/new":         {needs: buildPallet, show: s.newPallet, form: true},
		"/pallets/{id}":        {needs: listPallets, show: s.pallet},
		"/pallets/{id}/break":  {needs: breakPallet, show: s.breakPallet, form: true},
	}
}

func (s *site) clearances(v *visit) (view, error) {
	found, err := s.packing.ListLineClearances(v.ctx, &inventoryv1.ListLineClearancesRequest{PageSize: 30, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	return view{page: "clearances", title: "Line clearance", data: map[string]any{
		"Clearances": found.GetClearances(), "Cleared": v.URL.Query().Get("cleared"), "Next": nextPage(v, found.GetNextPageToken()),
		"MayClear": v.mayCall(recordClearance), "MayStart": v.mayCall(startLot),
	}}, nil
}

func (s *site) newClearance(v *visit) (view, error) {
	f := v.form()
	return s.plainTask(v, f, "newclearance", "Clear a line", map[string]any{}, func() (string, error) {
		made, err := s.packing.RecordLineClearance(v.ctx, &inventoryv1.RecordLineClearanceRequest{
			RequestId: f.RequestID, Line: upper(f.Value("line")), LabelsGone: f.Value("labels_gone") != "", JarsGone: f.Value("jars_gone") != "",
			GlassClear: f.Value("glass_clear") != "", Cleaning: f.Value("cleaning"),
		})
		return "/clearances?" + url.Values{"cleared": {made.GetLine()}}.Encode(), err
	})
}

func (s *site) lineChecks(v *visit) (view, error) {
	lot, err := s.readLot(v)
	if err != nil {
		return view{}, err
	}
	found, err := s.packing.ListLineChecks(v.ctx, &inventoryv1.ListLineChecksRequest{PackLot: lot.GetName()})
	if err != nil {
		return view{}, err
	}
	checks := found.GetChecks()
	var newest *inventoryv1.LineCheck
	if len(checks) > 0 {
		newest = checks[len(checks)-1]
	}
	open := lot.GetState() == inventoryv1.LotState_LOT_STATE_OPEN
	return view{page: "linechecks", title: "Jars off the line", data: map[string]any{
		"Lot": lot, "Checks": checks, "Newest": newest, "MayCheck": open && v.mayCall(checkLine), "Held": len(lot.GetHolds()) > 0,
	}}, nil
}

// checkLine takes the weights as a scale prints them: with spaces or lines between.
func (s *site) checkLine(v *visit) (view, error) {
	f := v.form()
	f.set("unit", "G")
	lot, err := s.readLot(v)
	if err != nil {
		return view{}, err
	}
	return s.plainTask(v, f, "checkline", "Weigh jars of "+lot.GetCode(), map[string]any{"Lot": lot, "Units": netUnits}, func() (string, error) {
		_, err := s.packing.CheckLine(v.ctx, &inventoryv1.CheckLineRequest{
			RequestId: f.RequestID, PackLot: lot.GetName(), Unit: inventoryv1.NetUnit(inventoryv1.NetUnit_value["NET_UNIT_"+f.Value("unit")]),
			NetWeights: weightsOf(f.Value("net_weights")),
		})
		return "/lots/" + idOf(lot.GetName()) + "/weigh", err
	})
}

// weightsOf are typed weights with spaces, semicolons or lines between them.
func weightsOf(typed string) []string {
	return strings.FieldsFunc(decimal(typed), func(r rune) bool { return strings.ContainsRune(" ;\t\r\n", r) })
}

func (s *site) pallets(v *visit) (view, error) {
	query := v.URL.Query()
	all := query.Get("all") != ""
	found, err := s.packing.ListPallets(v.ctx, &inventoryv1.ListPalletsRequest{PageSize: 50, PageToken: query.Get("page"), InHouseOnly: !all, PackLot: query.Get("lot")})
	if err != nil {
		return view{}, err
	}
	return view{page: "pallets", title: "Pallets", data: map[string]any{
		"Pallets": found.GetPallets(), "All": all, "Next": nextPage(v, found.GetNextPageToken()), "MayBuild": v.mayCall(buildPallet), "MayShip": v.mayCall(ship),
	}}, nil
}

func (s *site) pallet(v *visit) (view, error) {
	p, err := s.packing.GetPallet(v.ctx, &inventoryv1.GetPalletRequest{Name: "pallets/" + v.PathValue("id")})
	if err != nil {
		return view{}, err
	}
	here := p.GetState() == inventoryv1.PalletState_PALLET_STATE_IN_HOUSE
	return view{page: "pallet", title: palletTitle(p), data: map[string]any{
		"Pallet": p, "Title": palletTitle(p), "MayShip": here && v.mayCall(ship), "MayBreak": here && v.mayCall(breakPallet), "MayReturn": v.mayCall(receiveReturn), "MayTrace": v.mayCall(traceHoney),
	}}, nil
}

// palletTitle is the code people scan, or the number of a pallet without one.
func palletTitle(p *inventoryv1.Pallet) string {
	if p.GetSscc() == "" {
		return "Pallet " + strconv.FormatInt(p.GetNumber(), 10)
	}
	return "Pallet " + p.GetSscc()
}

// ssccDigits is how long the code of a pallet is.
const ssccDigits = 18

// palletScan takes a code as scanners send it: with its application identifier 00, or without.
func palletScan(code string) string {
	code = strings.TrimPrefix(code, "(00)")
	if len(code) == len("00")+ssccDigits {
		return strings.TrimPrefix(code, "00")
	}
	return code
}

// newPallet takes the code on the jars and how many, one lot a line.
func (s *site) newPallet(v *visit) (view, error) {
	f := v.form()
	return s.plainTask(v, f, "newpallet", "Build a pallet", map[string]any{}, func() (string, error) {
		request := &inventoryv1.BuildPalletRequest{RequestId: f.RequestID}
		err := s.lotLines(v, f, func(lot *inventoryv1.PackLot, jars int64) {
			request.Lines = append(request.Lines, &inventoryv1.PalletLine{PackLot: lot.GetName(), Jars: jars})
		})
		if err != nil {
			return "", err
		}
		made, err := s.packing.BuildPallet(v.ctx, request)
		return "/pallets/" + idOf(made.GetName()), err
	})
}

// lotLines reads the lines of a form: code on the jars and how many, one lot a line.
func (s *site) lotLines(v *visit, f *form, take func(lot *inventoryv1.PackLot, jars int64)) error {
	for n, cells := range linesOf(strings.ReplaceAll(f.Value("lines"), ",", "")) {
		if len(cells) == 1 {
			cells = strings.Fields(cells[0])
		}
		if len(cells) != 2 {
			f.badLine("lines", n, "code and jars")
			return badLines(f)
		}
		lot, err := s.inventory.GetPackLot(v.ctx, &inventoryv1.GetPackLotRequest{Name: "packLots/" + upper(cells[0])})
		if err != nil {
			return err
		}
		take(lot, count(cells[1]))
	}
	return nil
}

func (s *site) breakPallet(v *visit) (view, error) {
	f := v.form()
	name := "pallets/" + v.PathValue("id")
	return s.plainTask(v, f, "breakpallet", "Take a pallet apart", map[string]any{"Pallet": name}, func() (string, error) {
		_, err := s.packing.BreakPallet(v.ctx, &inventoryv1.BreakPalletRequest{RequestId: f.RequestID, Name: name, Reason: f.Value("reason")})
		return "/" + name, err
	})
}
