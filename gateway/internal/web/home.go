package web

import (
	"slices"

	"barrelhead.example/gateway/internal/edge"
)

// tile is one task on the start page.
type tile struct {
	Href, Title, Note string
	needs             string
}

// room is the tasks of one place or purpose, under its name.
type room struct {
	Name  string
	Tiles []tile
}

// rooms in the order honey travels, then money. Each task is offered to whoever may call the RPC behind it.
var rooms = []room{
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

// firstOfMoney is the place of the first room about members and their money.
const firstOfMoney = 4

type homeData struct {
	Roles string
	Rooms []room
}

// roomsFor puts the money first for those whose work it is.
func roomsFor(v *visit) []room {
	if !v.mayCall(listPools) {
		return rooms
	}
	return slices.Concat(rooms[firstOfMoney:], rooms[:firstOfMoney])
}

// home is a member's account, and for everybody else the tasks their roles allow.
func (s *site) home(v *visit) (view, error) {
	if v.onlyMember() {
		return view{goTo: "/me"}, nil
	}
	d := homeData{Roles: rolesInWords(v.who.Roles)}
	if v.has(memberRole) {
		d.Rooms = append(d.Rooms, room{"Yourself", []tile{{Href: "/me", Title: "Your account", Note: "What was credited to you"}}})
	}
	for _, r := range roomsFor(v) {
		open := room{Name: r.Name}
		for _, t := range r.Tiles {
			if v.mayCall(t.needs) {
				open.Tiles = append(open.Tiles, t)
			}
		}
		if len(open.Tiles) > 0 {
			d.Rooms = append(d.Rooms, open)
		}
	}
	if v.has(adminRole) {
		d.Rooms = append(d.Rooms, room{"House", []tile{{Href: "/logins", Title: "Logins", Note: "Who may sign in, and as what"}}})
	}
	return view{page: "home", title: "Start", data: d}, nil
}

// password changes one's own.
func (s *site) password(v *visit) (view, error) {
	f := v.form()
	if v.posted {
		next := v.PostForm.Get("password")
		if next != v.PostForm.Get("again") {
			f.Problem, f.faults["again"] = "The two new passwords differ. Type both again.", "Is not the same as the first."
		} else {
			err := s.Door.Keeper.ChangePassword(v.ctx, v.who.Name, v.PostForm.Get("current_password"), next, edge.Address(v.ctx))
			if err == nil {
				return view{goTo: "/sign-in"}, nil
			}
			if !f.refused(v, err) {
				return view{}, err
			}
		}
		// Passwords are not written back into the page.
		f.values = map[string]string{}
	}
	return view{page: "password", title: "Change your password", data: map[string]any{"Form": f}}, nil
}
