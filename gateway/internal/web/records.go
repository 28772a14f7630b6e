package web

import (
	"cmp"
	"fmt"
	"net/url"
	"strings"
	"time"

	"google.golang.org/grpc/codes"

	"barrelhead.example/gateway/internal/rest"
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
func (s *site) recordPages() map[string]page {
	return map[string]page{
		"/stock/{id}/split":    {needs: splitBarrel, show: s.splitBarrel, form: true},
		"/stock/{id}/heat":     {needs: getHeat, show: func(v *visit) (view, error) { return s.heat(v, "stock/") }},
		"/charges/{id}/heat":   {needs: getHeat, show: func(v *visit) (view, error) { return s.heat(v, "charges/") }},
		"/charges/{id}/hold":   {needs: placeHold, show: func(v *visit) (view, error) { return s.holdPlace(v, "charges/") }, form: true},
		"/lots/{id}/hold":      {needs: placeHold, show: func(v *visit) (view, error) { return s.holdPlace(v, "packLots/") }, form: true},
		"/labels/{id}/approve": {needs: approveLabel, show: s.approveLabel, form: true},
		"/counts":              {needs: listCounts, show: s.counts},
		"/counts/new":          {needs: recordCount, show: s.newCount, form: true},
		"/drills":              {needs: listDrills, show: s.drills},
		"/drills/new":          {needs: startDrill, show: s.newDrill, form: true},
		"/drills/{id}/finish":  {needs: finishDrill, show: s.finishDrill, form: true},
	}
}

// splitBarrel takes one container a line: its tag and what went into it.
func (s *site) splitBarrel(v *visit) (view, error) {
	f := v.form()
	item, err := s.readItem(v, v.PathValue("id"))
	if err != nil {
		return view{}, err
	}
	return s.plainTask(v, f, "splitbarrel", "Fill from "+item.GetDrumTag(), map[string]any{"Item": item}, func() (string, error) {
		request := &inventoryv1.SplitBarrelRequest{RequestId: f.RequestID, Name: item.GetName()}
		for n, cells := range linesOf(f.Value("lines")) {
			if len(cells) == 1 {
				cells = strings.Fields(cells[0])
			}
			if len(cells) != 2 {
				f.badLine("lines", n, "tag and weight")
				return "", badLines(f)
			}
			request.Parts = append(request.Parts, &inventoryv1.SplitPart{DrumTag: upper(cells[0]), Net: s.massOr(cells[1])})
		}
		_, err := s.inventory.SplitBarrel(v.ctx, request)
		return "/stock/" + idOf(item.GetName()), err
	})
}

// holdPlace holds a tank's charge or a lot.
func (s *site) holdPlace(v *visit, kind string) (view, error) {
	f := v.form()
	place := kind + v.PathValue("id")
	return s.plainTask(v, f, "holdplace", "Place a hold", map[string]any{"Place": place, "Back": placeAddress(place)}, func() (string, error) {
		_, err := s.inventory.PlaceHold(v.ctx, &inventoryv1.PlaceHoldRequest{
			RequestId: f.RequestID, Place: place, Code: inventoryv1.HoldCode(inventoryv1.HoldCode_value["HOLD_CODE_"+f.Value("code")]), Reason: f.Value("reason"),
		})
		return placeAddress(place), err
	})
}

func (s *site) approveLabel(v *visit) (view, error) {
	f := v.form()
	name := "labels/" + v.PathValue("id")
	return s.plainTask(v, f, "approvelabel", "Approve a label", map[string]any{"Label": name, "Entered": s.readLabel(v, name)}, func() (string, error) {
		_, err := s.inventory.ApproveLabel(v.ctx, &inventoryv1.ApproveLabelRequest{RequestId: f.RequestID, Name: name, Evidence: f.Value("evidence")})
		return "/labels", err
	})
}

func (s *site) counts(v *visit) (view, error) {
	found, err := s.records.ListCycleCounts(v.ctx, &inventoryv1.ListCycleCountsRequest{PageSize: 30, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	return view{page: "counts", title: "Counts", data: map[string]any{
		"Counts": found.GetCounts(), "Next": nextPage(v, found.GetNextPageToken()), "MayCount": v.mayCall(recordCount), "MayMove": v.mayCall(moveBarrel),
	}}, nil
}

// newCount takes the place and then every tag that stands there, as a scanner types them.
func (s *site) newCount(v *visit) (view, error) {
	f := v.form()
	return s.plainTask(v, f, "newcount", "Count a place", map[string]any{}, func() (string, error) {
		_, err := s.records.RecordCycleCount(v.ctx, &inventoryv1.RecordCycleCountRequest{
			RequestId: f.RequestID, Location: upper(f.Value("location")), DrumTags: strings.Fields(strings.ToUpper(f.Value("drum_tags"))),
		})
		return "/counts", err
	})
}

func (s *site) drills(v *visit) (view, error) {
	found, err := s.records.ListRecallDrills(v.ctx, &inventoryv1.ListRecallDrillsRequest{PageSize: 30, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	var subjects []string
	for _, d := range found.GetDrills() {
		subjects = append(subjects, d.GetSubject())
	}
	return view{page: "drills", title: "Mock recalls", data: map[string]any{
		"Names": s.namesOf(v, subjects), "Drills": found.GetDrills(), "Next": nextPage(v, found.GetNextPageToken()), "MayStart": v.mayCall(startDrill), "MayTrace": v.mayCall(traceHoney),
	}}, nil
}

func (s *site) newDrill(v *visit) (view, error) {
	f := v.form()
	traces := v.mayCall(traceHoney)
	return s.plainTask(v, f, "newdrill", "Start a mock recall", map[string]any{"Traces": traces}, func() (string, error) {
		subject := f.Value("subject")
		switch {
		case subject == "":
			return "", apierr.Field("subject", "is missing")
		case strings.Contains(subject, "/"): // a link of ours named the place
		case !traces:
			// The laboratory lead learns from a drill how long it took, and not whose honey it was: a lot or a charge by its code.
			if subject = upper(subject); chargeCode.MatchString(subject) {
				subject = "charges/" + subject
			} else {
				subject = "packLots/" + subject
			}
		default:
			found, err := s.findTrace(v, upper(subject))
			if _, c := rest.Explain(v.Context(), err); c == codes.NotFound {
				return "", apierr.Field("subject", fmt.Sprintf("is %q, the code of no lot or charge and the tag of no drum; check it and try again", upper(subject)))
			}
			if err != nil {
				return "", err
			}
			subject = found.GetName()
		}
		_, err := s.records.StartRecallDrill(v.ctx, &inventoryv1.StartRecallDrillRequest{RequestId: f.RequestID, Subject: subject})
		return "/drills", err
	})
}

func (s *site) finishDrill(v *visit) (view, error) {
	f := v.form()
	name := "recallDrills/" + v.PathValue("id")
	return s.plainTask(v, f, "finishdrill", "Stop the stopwatch", map[string]any{}, func() (string, error) {
		_, err := s.records.FinishRecallDrill(v.ctx, &inventoryv1.FinishRecallDrillRequest{
			RequestId: f.RequestID, Name: name, Found: s.massOr(f.Value("found")), Contacts: f.Value("contacts"), Note: f.Value("note"),
		})
		return "/drills?" + url.Values{"finished": {idOf(name)}}.Encode(), err
	})
}

// heat shows what warming cost, with the curve of each probe.
func (s *site) heat(v *visit, kind string) (view, error) {
	name := kind + v.PathValue("id")
	found, err := s.inventory.GetHeat(v.ctx, &inventoryv1.GetHeatRequest{Name: name})
	if err != nil {
		return view{}, err
	}
	logs, err := s.records.ListTemperatures(v.ctx, &inventoryv1.ListTemperaturesRequest{Name: name})
	if err != nil {
		return view{}, err
	}
	var curves []curve
	for _, l := range logs.GetLogs() {
		curves = append(curves, s.drawCurve(l))
	}
	called := cmp.Or(s.namesOf(v, []string{name})[name], thing(name))
	return view{page: "heat", title: "Heat of " + called, data: map[string]any{
		"Called": called, "Heat": found, "Curves": curves, "Back": placeAddress(name), "MayLog": v.mayCall(recordTemperatures), "Log": s.logAddress(v, name),
	}}, nil
}

// logAddress is where more readings of a place are entered, with what is known of it.
func (s *site) logAddress(v *visit, name string) string {
	if strings.HasPrefix(name, "charges/") {
		return "/heat/new?" + url.Values{"charge": {name}}.Encode()
	}
	return "/heat/new?" + url.Values{"warmed": {s.tagsOf(v, []string{name})[name]}}.Encode()
}

// fahrenheit writes tenths of a degree Celsius as people with such a thermometer read them, half up.
func fahrenheit(celsius string) string {
	tenths, err := quantity.ParseFixed(celsius, 1)
	if err != nil {
		return "?"
	}
	return quantity.FormatFixed((tenths*18+5)/10+320, 1, 1)
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

func (s *site) drawCurve(l *inventoryv1.TemperatureLog) curve {
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
	c.From, c.To = first.In(s.zone).Format("2 Jan 15:04"), last.In(s.zone).Format("2 Jan 15:04")
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
func (s *site) whoAllowed(l *inventoryv1.TemperatureLog) (out []string) {
	for _, a := range l.GetAllowances() {
		one := fmt.Sprintf("%s let it be up to %s °C (%s °F) on %s: %s", person(a.GetAllower()), a.GetLimitCelsius(), fahrenheit(a.GetLimitCelsius()),
			s.minute(a.GetAllowTime()), sentence(a.GetReason()))
		if a.GetAllower() == l.GetOpener() {
			one += " It does not count, since the same person began it."
		}
		out = append(out, one)
	}
	if len(out) == 0 && l.GetSecondPerson() != "" {
		out = append(out, fmt.Sprintf("%s was said to stand by: %s", person(l.GetSecondPerson()), sentence(l.GetSecondReason())))
	}
	return out
}

// heldName is what a hold holds.
func heldName(h *inventoryv1.Hold) string { return cmp.Or(h.GetPlace(), h.GetStockItem()) }

// stopwatch is a time in whole minutes.
func stopwatch(seconds int64) string {
	return plural((seconds+30)/60, "minute", "minutes")
}
