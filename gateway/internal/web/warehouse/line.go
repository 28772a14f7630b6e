package warehouse

import (
	"net/url"
	"strconv"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
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
func (s room) linePages() map[string]site.Page {
	return map[string]site.Page{
		"/clearances":          {Needs: listClearances, Show: s.clearances},
		"/clearances/new":      {Needs: recordClearance, Show: s.newClearance, Form: true},
		"/lots/{id}/weigh":     {Needs: listLineChecks, Show: s.lineChecks},
		"/lots/{id}/weigh/new": {Needs: checkLine, Show: s.checkLine, Form: true},
		"/pallets":             {Needs: listPallets, Show: s.pallets},
		"/pallets/new":         {Needs: buildPallet, Show: s.newPallet, Form: true},
		"/pallets/{id}":        {Needs: listPallets, Show: s.pallet},
		"/pallets/{id}/break":  {Needs: breakPallet, Show: s.breakPallet, Form: true},
	}
}

func (s room) clearances(v *site.Visit) (site.View, error) {
	found, err := s.Packing.ListLineClearances(v.Ctx, &inventoryv1.ListLineClearancesRequest{PageSize: 30, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "clearances", Title: "Line clearance", Data: map[string]any{
		"Clearances": found.GetClearances(), "Cleared": v.URL.Query().Get("cleared"), "Next": site.NextPage(v, found.GetNextPageToken()),
		"MayClear": v.MayCall(recordClearance), "MayStart": v.MayCall(startLot),
	}}, nil
}

func (s room) newClearance(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.PlainTask(v, f, "newclearance", "Clear a line", map[string]any{}, func() (string, error) {
		made, err := s.Packing.RecordLineClearance(v.Ctx, &inventoryv1.RecordLineClearanceRequest{
			RequestId: f.RequestID, Line: site.Upper(f.Value("line")), LabelsGone: f.Value("labels_gone") != "", JarsGone: f.Value("jars_gone") != "",
			GlassClear: f.Value("glass_clear") != "", Cleaning: f.Value("cleaning"),
		})
		return "/clearances?" + url.Values{"cleared": {made.GetLine()}}.Encode(), err
	})
}

func (s room) lineChecks(v *site.Visit) (site.View, error) {
	lot, err := s.readLot(v)
	if err != nil {
		return site.View{}, err
	}
	found, err := s.Packing.ListLineChecks(v.Ctx, &inventoryv1.ListLineChecksRequest{PackLot: lot.GetName()})
	if err != nil {
		return site.View{}, err
	}
	checks := found.GetChecks()
	var newest *inventoryv1.LineCheck
	if len(checks) > 0 {
		newest = checks[len(checks)-1]
	}
	open := lot.GetState() == inventoryv1.LotState_LOT_STATE_OPEN
	return site.View{Page: "linechecks", Title: "Jars off the line", Data: map[string]any{
		"Lot": lot, "Checks": checks, "Newest": newest, "MayCheck": open && v.MayCall(checkLine), "Held": len(lot.GetHolds()) > 0,
	}}, nil
}

// checkLine takes the weights as a scale prints them: with spaces or lines between.
func (s room) checkLine(v *site.Visit) (site.View, error) {
	f := v.Form()
	f.Set("unit", "G")
	lot, err := s.readLot(v)
	if err != nil {
		return site.View{}, err
	}
	return s.PlainTask(v, f, "checkline", "Weigh jars of "+lot.GetCode(), map[string]any{"Lot": lot, "Units": netUnits}, func() (string, error) {
		_, err := s.Packing.CheckLine(v.Ctx, &inventoryv1.CheckLineRequest{
			RequestId: f.RequestID, PackLot: lot.GetName(), Unit: inventoryv1.NetUnit(inventoryv1.NetUnit_value["NET_UNIT_"+f.Value("unit")]),
			NetWeights: weightsOf(f.Value("net_weights")),
		})
		return "/lots/" + site.IDOf(lot.GetName()) + "/weigh", err
	})
}

// weightsOf are typed weights with spaces, semicolons or lines between them.
func weightsOf(typed string) []string {
	return strings.FieldsFunc(site.Number(typed), func(r rune) bool { return strings.ContainsRune(" ;\t\r\n", r) })
}

func (s room) pallets(v *site.Visit) (site.View, error) {
	query := v.URL.Query()
	all := query.Get("all") != ""
	found, err := s.Packing.ListPallets(v.Ctx, &inventoryv1.ListPalletsRequest{PageSize: 50, PageToken: query.Get("page"), InHouseOnly: !all, PackLot: query.Get("lot")})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "pallets", Title: "Pallets", Data: map[string]any{
		"Pallets": found.GetPallets(), "All": all, "Next": site.NextPage(v, found.GetNextPageToken()), "MayBuild": v.MayCall(buildPallet), "MayShip": v.MayCall(ship),
	}}, nil
}

func (s room) pallet(v *site.Visit) (site.View, error) {
	p, err := s.Packing.GetPallet(v.Ctx, &inventoryv1.GetPalletRequest{Name: "pallets/" + v.PathValue("id")})
	if err != nil {
		return site.View{}, err
	}
	here := p.GetState() == inventoryv1.PalletState_PALLET_STATE_IN_HOUSE
	return site.View{Page: "pallet", Title: palletTitle(p), Data: map[string]any{
		"Pallet": p, "Title": palletTitle(p), "MayShip": here && v.MayCall(ship), "MayBreak": here && v.MayCall(breakPallet), "MayReturn": v.MayCall(receiveReturn), "MayTrace": v.MayCall(traceHoney),
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
func (s room) newPallet(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.PlainTask(v, f, "newpallet", "Build a pallet", map[string]any{}, func() (string, error) {
		request := &inventoryv1.BuildPalletRequest{RequestId: f.RequestID}
		err := s.lotLines(v, f, func(lot *inventoryv1.PackLot, jars int64) {
			request.Lines = append(request.Lines, &inventoryv1.PalletLine{PackLot: lot.GetName(), Jars: jars})
		})
		if err != nil {
			return "", err
		}
		made, err := s.Packing.BuildPallet(v.Ctx, request)
		return "/pallets/" + site.IDOf(made.GetName()), err
	})
}

// lotLines reads the lines of a form: code on the jars and how many, one lot a line.
func (s room) lotLines(v *site.Visit, f *site.Form, take func(lot *inventoryv1.PackLot, jars int64)) error {
	for n, cells := range site.LinesOf(strings.ReplaceAll(f.Value("lines"), ",", "")) {
		if len(cells) == 1 {
			cells = strings.Fields(cells[0])
		}
		if len(cells) != 2 {
			f.BadLine("lines", n, "code and jars")
			return badLines(f)
		}
		lot, err := s.Inventory.GetPackLot(v.Ctx, &inventoryv1.GetPackLotRequest{Name: "packLots/" + site.Upper(cells[0])})
		if err != nil {
			return err
		}
		take(lot, site.Count(cells[1]))
	}
	return nil
}

func (s room) breakPallet(v *site.Visit) (site.View, error) {
	f := v.Form()
	name := "pallets/" + v.PathValue("id")
	return s.PlainTask(v, f, "breakpallet", "Take a pallet apart", map[string]any{"Pallet": name}, func() (string, error) {
		_, err := s.Packing.BreakPallet(v.Ctx, &inventoryv1.BreakPalletRequest{RequestId: f.RequestID, Name: name, Reason: f.Value("reason")})
		return "/" + name, err
	})
}
