package warehouse

import (
	"net/url"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/quantity"
)

const (
	listNet    = inventoryv1.InventoryService_ListNetContentChecks_FullMethodName
	checkNet   = inventoryv1.InventoryService_CheckNetContent_FullMethodName
	releaseNet = inventoryv1.InventoryService_ReleaseNetContentCheck_FullMethodName
)

// netPages are where jars are weighed against their label.
func (s room) netPages() map[string]site.Page {
	return map[string]site.Page{
		"/lots/{id}/net":           {Needs: listNet, Show: s.netChecks},
		"/lots/{id}/net/new":       {Needs: checkNet, Show: s.checkNet, Form: true},
		"/net-checks/{id}/release": {Needs: releaseNet, Show: s.releaseNet, Form: true},
	}
}

func (s room) netChecks(v *site.Visit) (site.View, error) {
	lot := "packLots/" + v.PathValue("id")
	found, err := s.Inventory.ListNetContentChecks(v.Ctx, &inventoryv1.ListNetContentChecksRequest{PackLot: lot})
	if err != nil {
		return site.View{}, err
	}
	checks := found.GetChecks()
	var newest *inventoryv1.NetContentCheck
	if len(checks) > 0 {
		newest = checks[len(checks)-1]
	}
	return site.View{Page: "netchecks", Title: "Net content", Data: map[string]any{
		"Lot": lot, "Checks": checks, "Newest": newest, "MayCheck": v.MayCall(checkNet), "MayRelease": v.MayCall(releaseNet), "MayLot": v.MayCall(listLots),
	}}, nil
}

var netUnits = site.NewOptions("G", "grams", "LB", "pounds")

// checkNet takes the weights as a scale prints them: with spaces or lines between.
func (s room) checkNet(v *site.Visit) (site.View, error) {
	f := v.Form()
	lot := "packLots/" + v.PathValue("id")
	f.Set("unit", "G")
	run, _ := s.readLot(v) // without an answer the weight on the label is typed
	f.Set("declared", s.readLabel(v, run.GetLabel()).GetFace().GetNetGrams())
	return s.PlainTask(v, f, "checknet", "Check net content", map[string]any{"Lot": lot, "Jars": run.GetJars(), "Units": netUnits}, func() (string, error) {
		_, err := s.Inventory.CheckNetContent(v.Ctx, &inventoryv1.CheckNetContentRequest{
			RequestId: f.RequestID, PackLot: lot, Unit: inventoryv1.NetUnit(inventoryv1.NetUnit_value["NET_UNIT_"+f.Value("unit")]),
			Declared: site.Number(f.Value("declared")), NetWeights: printedWeights(f.Value("net_weights")), TareWeights: printedWeights(f.Value("tare_weights")),
		})
		return "/lots/" + site.IDOf(lot) + "/net", err
	})
}

func printedWeights(typed string) []string {
	return strings.FieldsFunc(typed, func(r rune) bool { return strings.ContainsRune(" ;\t\r\n", r) })
}

// readLabel is a label of the house; nil where it cannot be found.
func (s room) readLabel(v *site.Visit, name string) *inventoryv1.Label {
	labels, _ := s.Inventory.ListLabels(v.Ctx, &inventoryv1.ListLabelsRequest{PageSize: 1000}) // without an answer there is none
	for _, l := range labels.GetLabels() {
		if l.GetName() == name {
			return l
		}
	}
	return nil
}

func (s room) releaseNet(v *site.Visit) (site.View, error) {
	f := v.Form()
	lot := f.Value("lot")
	return s.PlainTask(v, f, "releasenet", "Let the lot go", map[string]any{"Lot": lot}, func() (string, error) {
		_, err := s.Inventory.ReleaseNetContentCheck(v.Ctx, &inventoryv1.ReleaseNetContentCheckRequest{
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
