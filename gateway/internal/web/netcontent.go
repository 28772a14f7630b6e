package web

import (
	"net/url"
	"strings"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/quantity"
)

const (
	listNet    = inventoryv1.InventoryService_ListNetContentChecks_FullMethodName
	checkNet   = inventoryv1.InventoryService_CheckNetContent_FullMethodName
	releaseNet = inventoryv1.InventoryService_ReleaseNetContentCheck_FullMethodName
)

// netPages are where jars are weighed against their label.
func (s *site) netPages() map[string]page {
	return map[string]page{
		"/lots/{id}/net":           {needs: listNet, show: s.netChecks},
		"/lots/{id}/net/new":       {needs: checkNet, show: s.checkNet, form: true},
		"/net-checks/{id}/release": {needs: releaseNet, show: s.releaseNet, form: true},
	}
}

func (s *site) netChecks(v *visit) (view, error) {
	lot := "packLots/" + v.PathValue("id")
	found, err := s.inventory.ListNetContentChecks(v.ctx, &inventoryv1.ListNetContentChecksRequest{PackLot: lot})
	if err != nil {
		return view{}, err
	}
	checks := found.GetChecks()
	var newest *inventoryv1.NetContentCheck
	if len(checks) > 0 {
		newest = checks[len(checks)-1]
	}
	return view{page: "netchecks", title: "Net content", data: map[string]any{
		"Lot": lot, "Checks": checks, "Newest": newest, "MayCheck": v.mayCall(checkNet), "MayRelease": v.mayCall(releaseNet), "MayLot": v.mayCall(listLots),
	}}, nil
}

var netUnits = newOptions("G", "grams", "LB", "pounds")

// checkNet takes the weights as a scale prints them: with spaces or lines between.
func (s *site) checkNet(v *visit) (view, error) {
	f := v.form()
	lot := "packLots/" + v.PathValue("id")
	f.set("unit", "G")
	run, _ := s.readLot(v) // without an answer the weight on the label is typed
	f.set("declared", s.readLabel(v, run.GetLabel()).GetFace().GetNetGrams())
	return s.plainTask(v, f, "checknet", "Check net content", map[string]any{"Lot": lot, "Jars": run.GetJars(), "Units": netUnits}, func() (string, error) {
		_, err := s.inventory.CheckNetContent(v.ctx, &inventoryv1.CheckNetContentRequest{
			RequestId: f.RequestID, PackLot: lot, Unit: inventoryv1.NetUnit(inventoryv1.NetUnit_value["NET_UNIT_"+f.Value("unit")]),
			Declared: decimal(f.Value("declared")), NetWeights: printedWeights(f.Value("net_weights")), TareWeights: printedWeights(f.Value("tare_weights")),
		})
		return "/lots/" + idOf(lot) + "/net", err
	})
}

func printedWeights(typed string) []string {
	return strings.FieldsFunc(typed, func(r rune) bool { return strings.ContainsRune(" ;\t\r\n", r) })
}

// readLabel is a label of the house; nil where it cannot be found.
func (s *site) readLabel(v *visit, name string) *inventoryv1.Label {
	labels, _ := s.inventory.ListLabels(v.ctx, &inventoryv1.ListLabelsRequest{PageSize: 1000}) // without an answer there is none
	for _, l := range labels.GetLabels() {
		if l.GetName() == name {
			return l
		}
	}
	return nil
}

func (s *site) releaseNet(v *visit) (view, error) {
	f := v.form()
	lot := f.Value("lot")
	return s.plainTask(v, f, "releasenet", "Let the lot go", map[string]any{"Lot": lot}, func() (string, error) {
		_, err := s.inventory.ReleaseNetContentCheck(v.ctx, &inventoryv1.ReleaseNetContentCheckRequest{
			RequestId: f.RequestID, Name: "netContentChecks/" + v.PathValue("id"), Reason: f.Value("reason"),
		})
		return "/lots/" + url.PathEscape(lot) + "/net", err
	})
}

// strip shows each weighed package against what the label declares and what one may be short by.
type strip struct {
	Dots              []stripDot
	DeclaredX, LeastX int64
	AverageX          int64
}

type stripDot struct {
	X, Y  int64
	Short bool
}

const (
	stripWidth  = 600
	stripMargin = 40
	netDigits   = 4
)

func drawStrip(c *inventoryv1.NetContentCheck) *strip {
	declared, err := quantity.ParseFixed(c.GetDeclared(), netDigits)
	if err != nil {
		return nil
	}
	allowed, err := quantity.ParseFixed(c.GetMaxAllowableVariation(), netDigits)
	if err != nil {
		return nil
	}
	average, err := quantity.ParseFixed(c.GetAverage(), netDigits)
	if err != nil {
		return nil
	}
	low, high := declared-allowed, declared+allowed
	var weights []int64
	for _, text := range c.GetNetWeights() {
		w, err := quantity.ParseFixed(text, netDigits)
		if err != nil {
			return nil
		}
		weights = append(weights, w)
		low, high = min(low, w), max(high, w)
	}
	at := func(w int64) int64 {
		x, err := quantity.MulDiv(w-low, stripWidth-2*stripMargin, max(high-low, 1))
		if err != nil {
			return stripMargin
		}
		return stripMargin + x
	}
	drawn := &strip{DeclaredX: at(declared), LeastX: at(declared - allowed), AverageX: at(average)}
	stacked := map[int64]int64{}
	for _, w := range weights {
		x := at(w)
		level := stacked[x/14]
		stacked[x/14]++
		drawn.Dots = append(drawn.Dots, stripDot{X: x, Y: 88 - min(level, 4)*14, Short: w < declared-allowed})
	}
	return drawn
}
