package web

import (
	"embed"
	"slices"

	"barrelhead.example/gateway/internal/edge"
	"barrelhead.example/gateway/internal/web/site"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
)

//go:embed pages/*.html
var files embed.FS

// start is the pages that are of no room: where everybody begins, and one's own password.
type start struct{ *site.Site }

func (s start) room() site.Room {
	return site.Room{Files: files, Pages: map[string]site.Page{
		"/{$}":      {Show: s.home},
		"/password": {Show: s.password, Form: true},
	}}
}

// tile is one task on the start page.
type tile struct {
	Href, Title, Note string
	needs             string
}

// place is the tasks of one place or purpose, under its name.
type place struct {
	Name  string
	Tiles []tile
}

// places in the order honey travels, then money. Each task is offered to whoever may call the RPC behind it.
var places = []place{
	{"Dock", []tile{
		{"/dock", "Dock", "Scale check, new delivery, open tickets", openTicket},
		{"/tickets", "Receiving tickets", "Every delivery with its weights", listTickets},
		{"/scales", "Scales", "Today's checks", listScales},
		{"/reviews", "Scale reviews", "Weights in doubt after a failed check", listReviews},
		{"/drums", "Drums", "Whose they are, full or free", listDrums},
		{"/containers", "Containers", "What members have out, given out, back", containerAccount},
		{"/dock-terms", "Class tares and deposits", "What the office lays down for the dock", listClassTares},
		{"/samples", "Sample portions", "Where a jar is, and where it was", getCustody},
		{"/portions", "Jars to throw away", "Portions kept long enough", listPortions},
		{"/variances", "Tare variances", "Drums that weighed otherwise empty", listVariances},
	}},
	{"Laboratory", []tile{
		{"/bench", "Bench", "Samples waiting, by blind code", listSamples},
		{"/controls", "Controls", "May the bench be trusted today?", listControls},
		{"/duplicates", "Duplicates", "Do two jars of one honey agree?", listDuplicates},
		{"/composites", "Composites", "Many jars tested as one, and what became of each", listComposites},
		{"/outside", "Outside results", "What other laboratories found, keyed twice", listOutside},
		{"/appeals", "Appeals", "Second looks, asked for and decided", listAppeals},
		{"/certificates", "Certificates", "Grades released", getCertificate},
		{"/bias", "Bias and drift", "How each person and instrument reads", reportBias},
		{"/views", "Who saw what", "Every look at a sample or certificate", listViews},
		{"/standards", "Grade standards", "Every limit and where it is printed", listStandards},
	}},
	{"Warehouse", []tile{
		{"/stock", "Stock", "What is on hand, by source and colour", sumStock},
		{"/stock/move", "Move a barrel", "Scan the tag, scan the place", moveBarrel},
		{"/holds", "Holds", "Barrels nobody may use", listHolds},
		{"/blend", "Plan a blend", "Which barrels make what the order asks for", planBlend},
		{"/tanks", "Tanks", "What is in them, and filling them", listTanks},
		{"/counts", "Counts", "What stands where, against the books", listCounts},
		{"/heat/new", "Log a warm room", "Temperatures of the hot room, from the logger", recordTemperatures},
		{"/heat/allowed", "Scalding stays", "Who let honey be 62.8 °C (145 °F) or warmer, and why", listAllowances},
		{"/side-goods", "Comb and wax", "Sections, cut comb, chunk honey, beeswax", listSide},
		{"/write-offs", "Write-offs", "Honey not found: asked for, and decided by the office", listWriteOffs},
		{"/balance", "Mass balance", "All honey ever received, and where it is", getBalance},
	}},
	{"Packing and shipping", []tile{
		{"/lots", "Pack lots", "Runs of jars under a lot code", listLots},
		{"/clearances", "Line clearance", "Nothing left of the lot before", listClearances},
		{"/pallets", "Pallets", "Stacked jars under one code", listPallets},
		{"/labels", "Labels", "What they say, and what honey may carry them", listLabels},
		{"/orders", "Orders", "What customers asked for, and what of it left", listOrders},
		{"/customers", "Customers", "Who buys honey, and whom to call in a recall", listCustomers},
		{"/shipments", "Shipments", "What left, and for whom", listShipments},
		{"/returns", "Returns", "What customers sent back, and what waits for a decision", listReturns},
		{"/sales", "Sales", "What shipments brought and cost, by source and crop year", listSales},
		{"/trace", "Trace", "Where honey came from and where it went", traceHoney},
		{"/drills", "Mock recalls", "How long it takes to find all of a lot", listDrills},
	}},
	{"Members", []tile{
		{"/members", "Members", "Who delivers, and what they were credited", listMembers},
		{"/questions", "Questions", "What members ask, and by when they are answered", listDisputes},
		{"/accounts", "Bank accounts", "Where money goes, and who called back", listAccounts},
		{"/loans", "Loans", "Who owes what, with interest to the day", listLoans},
		{"/encumbrances", "Liens and assignments", "Rights of others in members' money", listEncumbrances},
		{"/hauling", "Hauling", "What a zone costs, and charging a delivery", chargeHauling},
	}},
	{"Prices and payments", []tile{
		{"/schedules", "Price schedules", "Drafted and adopted", listSchedules},
		{"/unpriced", "Waiting for a price", "Barrels that have earned nothing yet, and why", listUnpriced},
		{"/totals", "Member totals", "What everybody was credited, to the cent", listTotals},
		{"/pools", "Pools", "Accounts, calculations and approvals", listPools},
		{"/payments", "Payments", "Prepared, released, and the bank's file", listBatches},
		{"/what-if", "What if?", "What a barrel would earn", estimate},
	}},
	{"Books and the year's end", []tile{
		{"/books", "The books", "Every account, and whether they balance", trialBalance},
		{"/equity/redeem", "Give capital back", "A resolution of the board, the oldest year first", redeemEquity},
		{"/refunds", "Patronage refunds", "A year's earnings, shared", listRefunds},
		{"/tax", "Tax figures", "A calendar year by the boxes of the form", listTaxRecords},
		{"/assessment", "Assessment", "What a month's honey owes, and who bears it", getAssessment},
		{"/numbers", "Ticket numbers", "Every number of a year accounted for", reportNumbers},
		{"/weighers", "Who weighed", "Weights typed by hand, person by person", reportWeigher},
		{"/typed", "Weights typed by hand", "Each with its reason, and those from the paper book", listTyped},
	}},
}

// firstOfMoney is the place of the first place about members and their money.
const firstOfMoney = 4

type homeData struct {
	Roles string
	Rooms []place
}

// placesFor puts the money first for those whose work it is.
func placesFor(v *site.Visit) []place {
	if !v.MayCall(listPools) {
		return places
	}
	return slices.Concat(places[firstOfMoney:], places[:firstOfMoney])
}

// home is a member's account, and for everybody else the tasks their roles allow.
func (s start) home(v *site.Visit) (site.View, error) {
	if v.OnlyMember() {
		return site.View{GoTo: "/me"}, nil
	}
	d := homeData{Roles: site.RolesInWords(v.Who.Roles)}
	if v.Has(accessv1.Role_ROLE_MEMBER) {
		d.Rooms = append(d.Rooms, place{"Yourself", []tile{{Href: "/me", Title: "Your account", Note: "What was credited to you"}}})
	}
	for _, r := range placesFor(v) {
		open := place{Name: r.Name}
		for _, t := range r.Tiles {
			if v.MayCall(t.needs) {
				open.Tiles = append(open.Tiles, t)
			}
		}
		if len(open.Tiles) > 0 {
			d.Rooms = append(d.Rooms, open)
		}
	}
	if v.Has(accessv1.Role_ROLE_ADMINISTRATOR) {
		d.Rooms = append(d.Rooms, place{"House", []tile{{Href: "/logins", Title: "Logins", Note: "Who may sign in, and as what"}}})
	}
	return site.View{Page: "home", Title: "Start", Data: d}, nil
}

// password changes one's own.
func (s start) password(v *site.Visit) (site.View, error) {
	f := v.Form()
	if v.Posted {
		next := v.PostForm.Get("password")
		if next != v.PostForm.Get("again") {
			f.Problem = "The two new passwords differ. Type both again."
			f.Wrong("again", "Is not the same as the first.")
		} else {
			err := s.Door.Keeper.ChangePassword(v.Ctx, v.Who.Name, v.PostForm.Get("current_password"), next, edge.Address(v.Ctx))
			if err == nil {
				return site.View{GoTo: "/sign-in"}, nil
			}
			if !f.Refused(v, err) {
				return site.View{}, err
			}
		}
		f.Forget("current_password", "password", "again")
	}
	return site.View{Page: "password", Title: "Change your password", Data: map[string]any{"Form": f}}, nil
}
