package warehouse

import (
	"cmp"
	"fmt"
	"net/url"
	"strings"
	"time"

	"google.golang.org/grpc/codes"

	"barrelhead.example/gateway/internal/rest"
	"barrelhead.example/gateway/internal/web/site"
	"barrelhead.example/gateway/internal/wording"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/quantity"
)

const (
	splitBarrel  = inventoryv1.InventoryService_SplitBarrel_FullMethodName
	getHeat      = inventoryv1.InventoryService_GetHeat_FullMethodName
	approveLabel = inventoryv1.InventoryService_ApproveLabel_FullMethodName
	listCounts   = inventoryv1.WarehouseRecordsService_ListCycleCounts_FullMethodName
	recordCount  = inventoryv1.WarehouseRecordsService_RecordCycleCount_FullMethodName
	listDrills   = inventoryv1.WarehouseRecordsService_ListRecallDrills_FullMethodName
	startDrill   = inventoryv1.WarehouseRecordsService_StartRecallDrill_FullMethodName
	finishDrill  = inventoryv1.WarehouseRecordsService_FinishRecallDrill_FullMethodName
)

// recordPages are what the warehouse writes down about itself, and what it does to one container.
func (s room) recordPages() map[string]site.Page {
	return map[string]site.Page{
		"/stock/{id}/split":    {Needs: splitBarrel, Show: s.splitBarrel, Form: true},
		"/stock/{id}/heat":     {Needs: getHeat, Show: func(v *site.Visit) (site.View, error) { return s.heat(v, "stock/") }},
		"/charges/{id}/heat":   {Needs: getHeat, Show: func(v *site.Visit) (site.View, error) { return s.heat(v, "charges/") }},
		"/charges/{id}/hold":   {Needs: placeHold, Show: func(v *site.Visit) (site.View, error) { return s.holdPlace(v, "charges/") }, Form: true},
		"/lots/{id}/hold":      {Needs: placeHold, Show: func(v *site.Visit) (site.View, error) { return s.holdPlace(v, "packLots/") }, Form: true},
		"/labels/{id}/approve": {Needs: approveLabel, Show: s.approveLabel, Form: true},
		"/counts":              {Needs: listCounts, Show: s.counts},
		"/counts/new":          {Needs: recordCount, Show: s.newCount, Form: true},
		"/drills":              {Needs: listDrills, Show: s.drills},
		"/drills/new":          {Needs: startDrill, Show: s.newDrill, Form: true},
		"/drills/{id}/finish":  {Needs: finishDrill, Show: s.finishDrill, Form: true},
	}
}

// splitBarrel takes one container a line: its tag and what went into it.
func (s room) splitBarrel(v *site.Visit) (site.View, error) {
	f := v.Form()
	item, err := s.readItem(v, v.PathValue("id"))
	if err != nil {
		return site.View{}, err
	}
	return s.PlainTask(v, f, "splitbarrel", "Fill from "+item.GetDrumTag(), map[string]any{"Item": item}, func() (string, error) {
		request := &inventoryv1.SplitBarrelRequest{RequestId: f.RequestID, Name: item.GetName()}
		for n, cells := range site.LinesOf(f.Value("lines")) {
			if len(cells) == 1 {
				cells = strings.Fields(cells[0])
			}
			if len(cells) != 2 {
				f.BadLine("lines", n, "tag and weight")
				return "", badLines(f)
			}
			request.Parts = append(request.Parts, &inventoryv1.SplitPart{DrumTag: site.Upper(cells[0]), Net: s.MassOr(cells[1])})
		}
		_, err := s.Inventory.SplitBarrel(v.Ctx, request)
		return "/stock/" + site.IDOf(item.GetName()), err
	})
}

// holdPlace holds a tank's charge or a lot.
func (s room) holdPlace(v *site.Visit, kind string) (site.View, error) {
	f := v.Form()
	place := kind + v.PathValue("id")
	return s.PlainTask(v, f, "holdplace", "Place a hold", map[string]any{"Place": place, "Back": site.PlaceAddress(place)}, func() (string, error) {
		_, err := s.Inventory.PlaceHold(v.Ctx, &inventoryv1.PlaceHoldRequest{
			RequestId: f.RequestID, Place: place, Code: inventoryv1.HoldCode(inventoryv1.HoldCode_value["HOLD_CODE_"+f.Value("code")]), Reason: f.Value("reason"),
		})
		return site.PlaceAddress(place), err
	})
}

func (s room) approveLabel(v *site.Visit) (site.View, error) {
	f := v.Form()
	name := "labels/" + v.PathValue("id")
	return s.PlainTask(v, f, "approvelabel", "Approve a label", map[string]any{"Label": name, "Entered": s.readLabel(v, name)}, func() (string, error) {
		_, err := s.Inventory.ApproveLabel(v.Ctx, &inventoryv1.ApproveLabelRequest{RequestId: f.RequestID, Name: name, Evidence: f.Value("evidence")})
		return "/labels", err
	})
}

func (s room) counts(v *site.Visit) (site.View, error) {
	found, err := s.Records.ListCycleCounts(v.Ctx, &inventoryv1.ListCycleCountsRequest{PageSize: 30, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "counts", Title: "Counts", Data: map[string]any{
		"Counts": found.GetCounts(), "Next": site.NextPage(v, found.GetNextPageToken()), "MayCount": v.MayCall(recordCount), "MayMove": v.MayCall(moveBarrel),
	}}, nil
}

// newCount takes the place and then every tag that stands there, as a scanner types them.
func (s room) newCount(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.PlainTask(v, f, "newcount", "Count a place", map[string]any{}, func() (string, error) {
		_, err := s.Records.RecordCycleCount(v.Ctx, &inventoryv1.RecordCycleCountRequest{
			RequestId: f.RequestID, Location: site.Upper(f.Value("location")), DrumTags: strings.Fields(strings.ToUpper(f.Value("drum_tags"))),
		})
		return "/counts", err
	})
}

func (s room) drills(v *site.Visit) (site.View, error) {
	found, err := s.Records.ListRecallDrills(v.Ctx, &inventoryv1.ListRecallDrillsRequest{PageSize: 30, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	var subjects []string
	for _, d := range found.GetDrills() {
		subjects = append(subjects, d.GetSubject())
	}
	return site.View{Page: "drills", Title: "Mock recalls", Data: map[string]any{
		"Names": s.NamesOf(v, subjects), "Drills": found.GetDrills(), "Next": site.NextPage(v, found.GetNextPageToken()), "MayStart": v.MayCall(startDrill), "MayTrace": v.MayCall(traceHoney),
	}}, nil
}

func (s room) newDrill(v *site.Visit) (site.View, error) {
	f := v.Form()
	traces := v.MayCall(traceHoney)
	return s.PlainTask(v, f, "newdrill", "Start a mock recall", map[string]any{"Traces": traces}, func() (string, error) {
		subject := f.Value("subject")
		switch {
		case subject == "":
			return "", apierr.Field("subject", "is missing")
		case strings.Contains(subject, "/"): // a link of ours named the place
		case !traces:
			// The laboratory lead learns from a drill how long it took, and not whose honey it was: a lot or a charge by its code.
			if subject = site.Upper(subject); chargeCode.MatchString(subject) {
				subject = "charges/" + subject
			} else {
				subject = "packLots/" + subject
			}
		default:
			found, err := s.findTrace(v, site.Upper(subject))
			if _, c := rest.Explain(v.Context(), err); c == codes.NotFound {
				return "", apierr.Field("subject", fmt.Sprintf("is %q, the code of no lot or charge and the tag of no drum; check it and try again", site.Upper(subject)))
			}
			if err != nil {
				return "", err
			}
			subject = found.GetName()
		}
		_, err := s.Records.StartRecallDrill(v.Ctx, &inventoryv1.StartRecallDrillRequest{RequestId: f.RequestID, Subject: subject})
		return "/drills", err
	})
}

func (s room) finishDrill(v *site.Visit) (site.View, error) {
	f := v.Form()
	name := "recallDrills/" + v.PathValue("id")
	return s.PlainTask(v, f, "finishdrill", "Stop the stopwatch", map[string]any{}, func() (string, error) {
		_, err := s.Records.FinishRecallDrill(v.Ctx, &inventoryv1.FinishRecallDrillRequest{
			RequestId: f.RequestID, Name: name, Found: s.MassOr(f.Value("found")), Contacts: f.Value("contacts"), Note: f.Value("note"),
		})
		return "/drills?" + url.Values{"finished": {site.IDOf(name)}}.Encode(), err
	})
}

// heat shows what warming cost, with the curve of each probe.
func (s room) heat(v *site.Visit, kind string) (site.View, error) {
	name := kind + v.PathValue("id")
	found, err := s.Inventory.GetHeat(v.Ctx, &inventoryv1.GetHeatRequest{Name: name})
	if err != nil {
		return site.View{}, err
	}
	logs, err := s.Records.ListTemperatures(v.Ctx, &inventoryv1.ListTemperaturesRequest{Name: name})
	if err != nil {
		return site.View{}, err
	}
	var curves []curve
	for _, l := range logs.GetLogs() {
		curves = append(curves, s.drawCurve(l))
	}
	called := cmp.Or(s.NamesOf(v, []string{name})[name], site.Thing(name))
	return site.View{Page: "heat", Title: "Heat of " + called, Data: map[string]any{
		"Called": called, "Heat": found, "Curves": curves, "Back": site.PlaceAddress(name), "MayLog": v.MayCall(recordTemperatures), "Log": s.logAddress(v, name),
	}}, nil
}

// logAddress is where more readings of a place are entered, with what is known of it.
func (s room) logAddress(v *site.Visit, name string) string {
	if strings.HasPrefix(name, "charges/") {
		return "/heat/new?" + url.Values{"charge": {name}}.Encode()
	}
	return "/heat/new?" + url.Values{"warmed": {s.TagsOf(v, []string{name})[name]}}.Encode()
}

// curve is the temperature of one probe over a stay, with the lines it is judged by.
type curve struct {
	Title, From, To, Points, Warmest, Limit string
	LimitLine, Line70                       int64
	// LimitText is how far from its line the limit is written: below it where the line of 70 °C would strike it through.
	LimitText int64
	// Said are who let the stay be scalding hot, and why.
	Said []string
}

const (
	curveWidth, curveHeight = 600, 160
	curveTop                = 80_0 // tenths of a degree at the upper edge
)

func (s room) drawCurve(l *inventoryv1.TemperatureLog) curve {
	at := func(tenths int64) int64 { return curveHeight - min(max(tenths, 0), curveTop)*curveHeight/curveTop }
	c := curve{Title: strings.TrimPrefix(l.GetStay(), "heatStays/") + ", probe " + l.GetProbe(), Limit: l.GetLimitCelsius(), Line70: at(70_0), Said: s.whoAllowed(l)}
	if limit, err := quantity.ParseFixed(c.Limit, 1); err == nil {
		c.LimitLine, c.LimitText = at(limit), -4
		if limit > 55_0 && limit < 70_0 {
			c.LimitText = 15
		}
	}
	readings := l.GetReadings()
	if len(readings) == 0 {
		return c
	}
	first, last := readings[0].GetTime().AsTime(), readings[len(readings)-1].GetTime().AsTime()
	c.From, c.To = first.In(s.Zone).Format("2 Jan 15:04"), last.In(s.Zone).Format("2 Jan 15:04")
	var points strings.Builder
	most := int64(-1000)
	for _, r := range readings {
		tenths, err := quantity.ParseFixed(r.GetCelsius(), 1)
		if err != nil {
			continue // what cannot be read is not drawn
		}
		if tenths > most {
			most, c.Warmest = tenths, r.GetCelsius()
		}
		x := int64(r.GetTime().AsTime().Sub(first)) * curveWidth / max(int64(last.Sub(first)), int64(time.Second))
		fmt.Fprintf(&points, "%d,%d ", x, at(tenths))
	}
	c.Points = strings.TrimSpace(points.String())
	return c
}

// whoAllowed tells of a stay who let it be scalding hot and why, the names of earlier years as they were typed.
func (s room) whoAllowed(l *inventoryv1.TemperatureLog) (out []string) {
	for _, a := range l.GetAllowances() {
		one := fmt.Sprintf("%s let it be up to %s °C (%s °F) on %s: %s", site.Person(a.GetAllower()), a.GetLimitCelsius(), site.Fahrenheit(a.GetLimitCelsius()),
			s.Minute(a.GetAllowTime()), site.Sentence(a.GetReason()))
		if a.GetAllower() == l.GetOpener() {
			one += " It does not count, since the same person began it."
		}
		out = append(out, one)
	}
	if len(out) == 0 && l.GetSecondPerson() != "" {
		out = append(out, fmt.Sprintf("%s was said to stand by: %s", site.Person(l.GetSecondPerson()), site.Sentence(l.GetSecondReason())))
	}
	return out
}

// heldName is what a hold holds.
func heldName(h *inventoryv1.Hold) string { return cmp.Or(h.GetPlace(), h.GetStockItem()) }

// stopwatch is a time in whole minutes.
func stopwatch(seconds int64) string {
	return wording.Plural((seconds+30)/60, "minute", "minutes")
}
