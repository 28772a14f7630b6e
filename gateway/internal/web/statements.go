package web

import (
	"slices"
	"strconv"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// mostPages of a long list are read to find the years in it; a page holds a thousand payouts.
const mostPages = 20

// yearsOf are the crop years a member has payouts in, newest first; each has a statement.
func (s *site) yearsOf(v *visit, member string) ([]int32, error) {
	var years []int32
	token := ""
	for range mostPages {
		found, err := s.settlement.ListPayouts(v.ctx, &settlementv1.ListPayoutsRequest{Member: member, PageSize: 1000, PageToken: token})
		if err != nil {
			return nil, err
		}
		years = append(years, cropYears(found.GetPayouts())...)
		if token = found.GetNextPageToken(); token == "" {
			break
		}
	}
	slices.Sort(years)
	slices.Reverse(years)
	return slices.Compact(years), nil
}

func (s *site) ownStatements(v *visit) (view, error) { return s.statementsOf(v, v.who.Member) }

func (s *site) statements(v *visit) (view, error) {
	return s.statementsOf(v, "members/"+v.PathValue("number"))
}

func (s *site) statementsOf(v *visit, member string) (view, error) {
	years, err := s.yearsOf(v, member)
	if err != nil {
		return view{}, err
	}
	var all []*settlementv1.Statement
	for _, year := range years {
		one, err := s.settlement.GetStatement(v.ctx, &settlementv1.GetStatementRequest{Member: member, CropYear: year})
		if err != nil {
			return view{}, err
		}
		all = append(all, one)
	}
	own, back := v.backTo(member)
	return view{page: "statements", title: "Statements", data: map[string]any{"Statements": all, "Own": own, "Back": back}}, nil
}

// readStatement is a statement for the screen; the PDF beside it says the same and carries the same code.
func (s *site) readStatement(v *visit) (view, error) {
	year, err := strconv.ParseInt(v.PathValue("year"), 10, 32)
	if err != nil {
		return view{}, errNoPage
	}
	found, err := s.settlement.GetStatement(v.ctx, &settlementv1.GetStatementRequest{Member: "members/" + v.PathValue("number"), CropYear: int32(year)})
	if err != nil {
		return view{}, err
	}
	own, _ := v.backTo(found.GetMember())
	return view{page: "statement", title: "Statement " + v.PathValue("year"), data: map[string]any{"Statement": found, "Own": own}}, nil
}

// deliveryView is a delivery with the part of it that is the reader's own.
type deliveryView struct {
	*intakev1.Ticket
	// Share is the reader's percentage; empty where there is one owner.
	Share  string
	Others int
}

// deliveries are a member's tickets with who owns which part of them.
func (s *site) deliveries(v *visit) (view, error) {
	found, err := s.intake.ListTickets(v.ctx, &intakev1.ListTicketsRequest{Member: v.who.Member, PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	var rows []deliveryView
	for _, t := range found.GetTickets() {
		row := deliveryView{Ticket: t, Others: len(t.GetOwners()) - 1}
		for _, owner := range t.GetOwners() {
			if owner.GetMember() == v.who.Member && row.Others > 0 {
				row.Share = owner.GetSharePercent()
			}
		}
		rows = append(rows, row)
	}
	return view{page: "deliveries", title: "Your deliveries", data: map[string]any{"Deliveries": rows, "Next": nextPage(v, found.GetNextPageToken())}}, nil
}
