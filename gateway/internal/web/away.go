package web

import (
	"net/http"
	"strconv"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

// dockWorker serves the script that shows the dock its kept page when the house does not answer. Its address is at the
// root, because a worker may stand only before pages below its own; browsers look for a newer one at each visit.
func dockWorker(w http.ResponseWriter, _ *http.Request) {
	content, err := staticFiles.ReadFile("static/dock-worker.js")
	if err != nil {
		http.Error(w, "not here", http.StatusNotFound)
		return
	}
	w.Header().Set("Content-Type", "text/javascript; charset=utf-8")
	w.Header().Set("Cache-Control", "no-cache")
	_, _ = w.Write(content) // the browser has gone away if this fails
}

// away is the page the device keeps for when the house does not answer: open deliveries, a form to weigh, and what waits to
// be sent. The list of members and tickets is as of the last visit; the services decide when the entries arrive.
func (s *site) away(v *visit) (view, error) {
	open, err := s.intake.ListTickets(v.ctx, &intakev1.ListTicketsRequest{State: intakev1.TicketState_TICKET_STATE_OPEN, PageSize: 50})
	if err != nil {
		return view{}, err
	}
	members, err := s.intake.ListMembers(v.ctx, &intakev1.ListMembersRequest{PageSize: 1000})
	if err != nil {
		return view{}, err
	}
	scales, err := s.scaleViews(v)
	if err != nil {
		return view{}, err
	}
	f := &form{values: map[string]string{}, faults: map[string]string{}}
	f.set("crop_year", strconv.Itoa(s.Clock.Now().In(s.zone).Year()))
	s.offerLast(f, &intakev1.Ticket{}, scales)
	return view{page: "away", title: "This device", data: map[string]any{
		"Form": f, "Open": open.GetTickets(), "Members": members.GetMembers(), "Scales": scaleOptions(scales, f.Value("scale")),
		"Varieties": varietyOptions(f), "TareKinds": tareKinds, "Containers": containerOptions, "Unit": words(s.Cooperative.Unit), "UnitCode": s.Cooperative.Unit,
	}}, nil
}
