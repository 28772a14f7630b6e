package warehouse

import (
	"cmp"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	"barrelhead.example/gateway/internal/wording"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/quantity"
)

// The RPCs behind the pages of honey that is gone or was not found.
const (
	recordLoss     = inventoryv1.InventoryService_RecordLoss_FullMethodName
	askWriteOff    = inventoryv1.WriteOffService_RequestWriteOff_FullMethodName
	decideWriteOff = inventoryv1.WriteOffService_DecideWriteOff_FullMethodName
	withdrawOff    = inventoryv1.WriteOffService_WithdrawWriteOff_FullMethodName
	listWriteOffs  = inventoryv1.WriteOffService_ListWriteOffs_FullMethodName
)

// lossPages are where honey is booked as lost, and where what was not found is asked to be written off and decided.
func (s room) lossPages() map[string]site.Page {
	return map[string]site.Page{
		"/loss":                     {Needs: recordLoss, And: askWriteOff, Show: s.recordLoss, Form: true},
		"/write-offs":               {Needs: listWriteOffs, Show: s.allWriteOffs},
		"/write-offs/{id}/decide":   {Needs: decideWriteOff, Show: s.decideWriteOff, Form: true},
		"/write-offs/{id}/withdraw": {Needs: withdrawOff, Show: s.withdrawWriteOff, Form: true},
	}
}

// unexplained is the one loss nobody books alone.
const unexplained = "UNEXPLAINED"

var lossOptions = site.NewOptions("DRAIN", "stayed in a drum", "FILTER", "in the filter", "FLUSH", "flushed from the line", "OVERFILL", "in jars, above the label", "SAMPLE", "drawn as samples",
	"SPILL", "spilt", "FOAM", "skimmed foam", "DESTROYED", "destroyed", unexplained, "looked for, not found")

var jarLossOptions = site.NewOptions("BROKEN", "broken", "DESTROYED", "destroyed", "SAMPLE", "drawn as samples", unexplained, "looked for, not found")

var anyLoss = slices.Concat(lossOptions, jarLossOptions)

// recordLoss books honey that is gone from a barrel, a tank or a run, or jars of a lot. What was not found is asked for instead.
func (s room) recordLoss(v *site.Visit) (site.View, error) {
	f := v.Form()
	from := f.Value("from")
	if from == "" { // honey is lost from somewhere: its page has the button
		return site.View{GoTo: "/stock"}, nil
	}
	jars, codes := f.Value("of") == "jars", lossOptions
	if jars {
		codes = jarLossOptions
	}
	data := map[string]any{"From": from, "Of": cmp.Or(s.NamesOf(v, []string{from})[from], site.Thing(from)), "Back": site.PlaceAddress(from), "Codes": codes, "Jars": jars}
	return s.PlainTask(v, f, "loss", "Book a loss", data, func() (string, error) {
		var weight *typev1.Mass
		var gone int64
		if jars {
			gone = site.Count(f.Value("jars"))
		} else {
			weight = s.MassOr(f.Value("mass"))
		}
		if f.Value("code") == unexplained {
			made, err := s.WriteOffs.RequestWriteOff(v.Ctx, &inventoryv1.RequestWriteOffRequest{RequestId: f.RequestID, From: from, Mass: weight, Jars: gone, Reason: f.Value("reason")})
			return didHere(from, url.Values{"done": {"asked"}}, made.GetMass(), gone), err
		}
		made, err := s.Inventory.RecordLoss(v.Ctx, &inventoryv1.RecordLossRequest{
			RequestId: f.RequestID, From: from, Mass: weight, Jars: gone, Reason: f.Value("reason"),
			Code: inventoryv1.LossCode(inventoryv1.LossCode_value["LOSS_CODE_"+f.Value("code")]),
		})
		return didHere(from, url.Values{"done": {"lost"}, "as": {f.Value("code")}}, made.GetMass(), gone), err
	})
}

// didHere is the page of a place, which then says what was done there.
func didHere(place string, done url.Values, m *typev1.Mass, jars int64) string {
	done.Set("mass", m.GetValue())
	if jars > 0 {
		done.Set("jars", strconv.FormatInt(jars, 10))
	}
	return site.PlaceAddress(place) + "?" + done.Encode()
}

// done says what the form before has done, as the address it led to tells; empty of what cannot be read.
func (s room) done(v *site.Visit) string {
	q := v.URL.Query()
	weight, err := quantity.ParseMass(q.Get("mass"))
	if err != nil || weight <= 0 {
		return ""
	}
	amount := wording.Screen.Mass(&typev1.Mass{Value: weight.String(), Unit: s.Cooperative.Unit})
	if jars := site.Count(q.Get("jars")); jars > 0 {
		amount = wording.Plural(jars, "jar", "jars") + " (" + amount + ")"
	}
	tank := strings.Join(strings.Fields(q.Get("tank")), " ")
	switch q.Get("done") {
	case "lost":
		if n := slices.IndexFunc(anyLoss, func(o site.Option) bool { return o.Value == q.Get("as") }); n >= 0 {
			return amount + " booked as lost: " + anyLoss[n].Label + "."
		}
		return ""
	case "asked":
		return amount + " asked to be written off. Nothing changes until the office has decided."
	case "poured":
		return amount + " poured back into tank " + tank + "."
	case "drawn":
		return amount + " drawn from tank " + tank + "."
	case "approved":
		return amount + " written off."
	case "declined":
		return amount + " not written off: the books stay as they are."
	case "withdrawn":
		return amount + " no longer asked to be written off: the books stay as they are."
	default:
		return ""
	}
}

// waiting is what is asked to be written off at a place and not decided, for whoever may know.
func (s room) waiting(v *site.Visit, place string) ([]*inventoryv1.WriteOff, error) {
	if !v.MayCall(listWriteOffs) {
		return nil, nil
	}
	found, err := s.WriteOffs.ListWriteOffs(v.Ctx, &inventoryv1.ListWriteOffsRequest{From: place, WaitingOnly: true})
	return found.GetWriteOffs(), err
}

// allWriteOffs are those that wait, or all there were.
func (s room) allWriteOffs(v *site.Visit) (site.View, error) {
	all := v.URL.Query().Get("all") != ""
	found, err := s.WriteOffs.ListWriteOffs(v.Ctx, &inventoryv1.ListWriteOffsRequest{PageSize: 50, PageToken: v.URL.Query().Get("page"), WaitingOnly: !all})
	if err != nil {
		return site.View{}, err
	}
	var places []string
	for _, o := range found.GetWriteOffs() {
		places = append(places, o.GetFrom())
	}
	return site.View{Page: "writeoffs", Title: "Write-offs", Data: map[string]any{
		"WriteOffs": found.GetWriteOffs(), "Names": s.NamesOf(v, places), "All": all, "Done": s.done(v), "Next": site.NextPage(v, found.GetNextPageToken()),
		"MayDecide": v.MayCall(decideWriteOff), "MayWithdraw": v.MayCall(withdrawOff), "Own": "users/" + v.Who.Name,
	}}, nil
}

// decideWriteOff approves or declines.
func (s room) decideWriteOff(v *site.Visit) (site.View, error) {
	f := v.Form()
	name := "writeOffs/" + v.PathValue("id")
	o, err := s.WriteOffs.GetWriteOff(v.Ctx, &inventoryv1.GetWriteOffRequest{Name: name})
	if err != nil {
		return site.View{}, err
	}
	decisions, less := site.NewOptions("APPROVED", "write it off", "DECLINED", "leave it in the books"), lessThan(o.GetHeldNow(), o.GetMass())
	if less {
		decisions = decisions[1:]
	}
	data := map[string]any{"WriteOff": o, "Of": cmp.Or(s.NamesOf(v, []string{o.GetFrom()})[o.GetFrom()], site.Thing(o.GetFrom())), "Less": less, "Decisions": decisions}
	return s.PlainTask(v, f, "decidewriteoff", "Decide a write-off", data, func() (string, error) {
		made, err := s.WriteOffs.DecideWriteOff(v.Ctx, &inventoryv1.DecideWriteOffRequest{
			RequestId: f.RequestID, Name: name, Reason: f.Value("reason"), Decision: inventoryv1.WriteOffState(inventoryv1.WriteOffState_value["WRITE_OFF_STATE_"+f.Value("decision")]),
		})
		done := url.Values{"done": {wording.Words(made.GetState())}, "mass": {cmp.Or(made.GetBooked().GetValue(), made.GetMass().GetValue())}}
		return "/write-offs?" + done.Encode(), err
	})
}

// withdrawWriteOff takes a request back.
func (s room) withdrawWriteOff(v *site.Visit) (site.View, error) {
	f := v.Form()
	name := "writeOffs/" + v.PathValue("id")
	o, err := s.WriteOffs.GetWriteOff(v.Ctx, &inventoryv1.GetWriteOffRequest{Name: name})
	if err != nil {
		return site.View{}, err
	}
	data := map[string]any{"WriteOff": o, "Of": cmp.Or(s.NamesOf(v, []string{o.GetFrom()})[o.GetFrom()], site.Thing(o.GetFrom()))}
	return s.PlainTask(v, f, "withdrawwriteoff", "Withdraw a write-off", data, func() (string, error) {
		made, err := s.WriteOffs.WithdrawWriteOff(v.Ctx, &inventoryv1.WithdrawWriteOffRequest{RequestId: f.RequestID, Name: name, Reason: f.Value("reason")})
		return "/write-offs?" + url.Values{"done": {"withdrawn"}, "mass": {made.GetMass().GetValue()}}.Encode(), err
	})
}

// lessThan compares weights; of what cannot be read it says nothing.
func lessThan(a, b *typev1.Mass) bool {
	x, err := quantity.ParseMass(a.GetValue())
	if err != nil {
		return false
	}
	y, err := quantity.ParseMass(b.GetValue())
	return err == nil && x < y
}
