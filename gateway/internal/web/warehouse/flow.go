package warehouse

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	"barrelhead.example/gateway/internal/wording"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/quantity"
)

// flow is where honey went, drawn from the left to the right: barrels, tanks, runs of jars, and where it ended.
type flow struct {
	Height  int64
	Nodes   []*flowNode
	Bands   []flowBand
	Heads   []flowHead
	Summary string
}

// flowNode is a place, as tall as what went through it.
type flowNode struct {
	Label, Mass, Class string
	X, Y, Height       int64
	TextY              int64
	column             int
	in, out            quantity.Mass
	inAt, outAt        int64
	order              int
}

// flowBand is honey on its way between two places.
type flowBand struct{ Path, Label, Class string }

type flowHead struct {
	X     int64
	Label string
}

const (
	flowWidth  = 880
	flowNodeW  = 18
	flowPitch  = 228 // between the left edges of two columns
	flowRoom   = 420 // for the tallest column, gaps not counted
	flowGap    = 34  // leaves two lines of text to the thinnest place
	flowTop    = 34
	mostPlaces = 12 // of one kind; the smallest others are drawn as one
)

var flowColumns = map[string]int{"stock": 0, "charges": 1, "packLots": 2, "shipments": 3, "returns": 3, "losses": 3}

// drawFlow draws the transfers of a trace; names says what people call each place.
func drawFlow(transfers []*inventoryv1.Transfer, names map[string]string) *flow {
	if len(transfers) == 0 {
		return nil
	}
	p := &flowPlan{nodes: map[string]*flowNode{}, folded: foldSmall(transfers), names: names}
	for _, t := range transfers {
		p.add(t)
	}
	return p.draw(transfers[0].GetMass().GetUnit())
}

type flowPlan struct {
	nodes  map[string]*flowNode
	links  []flowLink
	folded map[string]string
	names  map[string]string
	height int64
}

type flowLink struct {
	from, to *flowNode
	mass     quantity.Mass
}

// foldSmall joins the smallest places of a kind where there are too many to be told apart.
func foldSmall(transfers []*inventoryv1.Transfer) map[string]string {
	through := map[string]quantity.Mass{}
	kinds := map[string][]string{}
	for _, t := range transfers {
		m, _ := quantity.ParseMass(t.GetMass().GetValue()) // what cannot be read is drawn as nothing
		for _, name := range []string{t.GetFrom(), t.GetTo()} {
			if _, seen := through[name]; !seen {
				kind, _, _ := strings.Cut(name, "/")
				kinds[kind] = append(kinds[kind], name)
			}
			through[name] += m
		}
	}
	folded := map[string]string{}
	for kind, names := range kinds {
		if len(names) <= mostPlaces {
			continue
		}
		slices.SortStableFunc(names, func(a, b string) int { return cmp.Compare(through[b], through[a]) })
		rest := fmt.Sprintf("%s/%d more", kind, len(names)-mostPlaces+1)
		for _, name := range names[mostPlaces-1:] {
			folded[name] = rest
		}
	}
	return folded
}

func (p *flowPlan) node(name string) *flowNode {
	if rest, small := p.folded[name]; small {
		name = rest
	}
	if n := p.nodes[name]; n != nil {
		return n
	}
	kind, _, _ := strings.Cut(name, "/")
	label := p.names[name]
	switch {
	case label != "":
	case strings.HasSuffix(name, " more"):
		_, label, _ = strings.Cut(name, "/")
	default:
		label = strings.ToLower(site.Thing(name))
	}
	n := &flowNode{Label: label, Class: "flow-" + strings.ToLower(kind), column: flowColumns[kind], order: len(p.nodes)}
	p.nodes[name] = n
	return n
}

func (p *flowPlan) add(t *inventoryv1.Transfer) {
	m, err := quantity.ParseMass(t.GetMass().GetValue())
	if err != nil || m <= 0 {
		return
	}
	from, to := p.node(t.GetFrom()), p.node(t.GetTo())
	from.out += m
	to.in += m
	for i, l := range p.links {
		if l.from == from && l.to == to {
			p.links[i].mass += m
			return
		}
	}
	p.links = append(p.links, flowLink{from, to, m})
}

func (p *flowPlan) draw(unit string) *flow {
	columns := make([][]*flowNode, 4)
	for _, n := range p.nodes {
		columns[n.column] = append(columns[n.column], n)
	}
	var most quantity.Mass = 1
	for _, column := range columns {
		slices.SortFunc(column, func(a, b *flowNode) int { return cmp.Compare(a.order, b.order) })
		var sum quantity.Mass
		for _, n := range column {
			sum += max(n.in, n.out)
		}
		most = max(most, sum)
	}
	f := &flow{}
	for i, column := range columns {
		p.place(column, int64(i)*flowPitch, most, unit)
		f.Nodes = append(f.Nodes, column...)
		if len(column) > 0 {
			f.Heads = append(f.Heads, flowHead{X: int64(i) * flowPitch, Label: []string{"Barrels", "Tanks", "Runs", "Where it went"}[i]})
		}
	}
	f.Height = p.height
	for _, l := range p.links {
		f.Bands = append(f.Bands, band(l, most, unit))
	}
	f.Summary = fmt.Sprintf("%s, %s, %s, %s", wording.Plural(len(columns[0]), "barrel", "barrels"), wording.Plural(len(columns[1]), "charge", "charges"),
		wording.Plural(len(columns[2]), "run", "runs"), wording.Plural(len(columns[3]), "destination", "destinations"))
	return f
}

func (p *flowPlan) place(column []*flowNode, x int64, most quantity.Mass, unit string) {
	y := int64(flowTop)
	for _, n := range column {
		through := max(n.in, n.out)
		n.X, n.Y, n.Height = x, y, max(flowSize(through, most), 3)
		n.TextY = y + 13
		n.Mass = wording.Screen.Mass(&typev1.Mass{Value: through.String(), Unit: unit})
		n.inAt, n.outAt = y, y
		y += max(n.Height, flowGap) + 12
	}
	p.height = max(p.height, y)
}

func flowSize(m, most quantity.Mass) int64 {
	size, err := quantity.MulDiv(int64(m), flowRoom, int64(most))
	if err != nil {
		return 0
	}
	return size
}

// band runs from where the last one left the place to where the last one entered the next. Within a column, a heel that
// stayed in its tank, it bows out to the right.
func band(l flowLink, most quantity.Mass, unit string) flowBand {
	h := max(flowSize(l.mass, most), 1)
	x1, y1, x2, y2 := l.from.X+flowNodeW, l.from.outAt, l.to.X, l.to.inAt
	l.from.outAt, l.to.inAt = y1+h, y2+h
	b := flowBand{Label: l.from.Label + " to " + l.to.Label + ": " + wording.Screen.Mass(&typev1.Mass{Value: l.mass.String(), Unit: unit}), Class: "flow-band"}
	if l.from.column >= l.to.column {
		x2 += flowNodeW
		bow := max(x1, x2) + 40 + h // the inner edge bows out too
		b.Class += " flow-back"
		b.Path = fmt.Sprintf("M%d %dC%d %d %d %d %d %dV%dC%d %d %d %d %d %dZ", x1, y1, bow, y1, bow, y2, x2, y2, y2+h, bow-h, y2+h, bow-h, y1+h, x1, y1+h)
		return b
	}
	mid := (x1 + x2) / 2
	b.Path = fmt.Sprintf("M%d %dC%d %d %d %d %d %dV%dC%d %d %d %d %d %dZ", x1, y1, mid, y1, mid, y2, x2, y2, y2+h, mid, y2+h, mid, y1+h, x1, y1+h)
	return b
}

// placeNames are what people call the places of a trace, as its answer says. What is known by nothing keeps its number.
func placeNames(found *inventoryv1.TraceResponse, brief map[string]string) map[string]string {
	names, as := map[string]string{}, map[string]int{}
	for _, p := range found.GetPlaces() {
		as[p.GetKnownAs()]++
	}
	for _, p := range found.GetPlaces() {
		switch name := p.GetName(); {
		case strings.HasPrefix(name, "stock/") && as[p.GetKnownAs()] > 1: // a drum comes back every year
			names[name] = p.GetKnownAs() + ", " + brief[name]
		default:
			names[name] = p.GetKnownAs()
		}
	}
	for _, t := range found.GetTransfers() {
		if id, lost := strings.CutPrefix(t.GetTo(), "losses/"); lost {
			names[t.GetTo()] = "Lost: " + wording.Words(id)
		}
		if strings.HasPrefix(t.GetTo(), "returns/") {
			names[t.GetTo()] = "Sent back, " + brief[t.GetTo()]
		}
	}
	for _, c := range found.GetCustomers() {
		names[c.GetShipment()] = c.GetCustomer()
	}
	return names
}

// bestByOf are the days the lots of a trace are best by; one without has none here.
func bestByOf(found *inventoryv1.TraceResponse) map[string]string {
	days := map[string]string{}
	for _, p := range found.GetPlaces() {
		if p.GetBestByDate() != "" {
			days[p.GetName()] = wording.Day(p.GetBestByDate())
		}
	}
	return days
}

// namedIn are all resources a trace names.
func namedIn(found *inventoryv1.TraceResponse) []string {
	names := []string{found.GetName()}
	for _, t := range found.GetTransfers() {
		names = append(names, t.GetFrom(), t.GetTo())
	}
	for _, c := range found.GetCustomers() {
		names = append(names, c.GetShipment())
		for _, x := range c.GetReceived() {
			names = append(names, x.GetPlace())
		}
	}
	return names
}
