package office

import (
	"slices"
	"strconv"

	"barrelhead.example/gateway/internal/web/site"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// mostPages of a long list are read to find the years in it; a page holds a thousand payouts.
const mostPages = 20

// yearsOf are the crop years a member has payouts in, newest first; each has a statement.
func (s room) yearsOf(v *site.Visit, member string) ([]int32, error) {
	var years []int32
	token := ""
	for range mostPages {
		found, err := s.Settlement.ListPayouts(v.Ctx, &settlementv1.ListPayoutsRequest{Member: member, PageSize: 1000, PageToken: token})
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

func (s room) ownStatements(v *site.Visit) (site.View, error) { return s.statementsOf(v, v.Who.Member) }

func (s room) statements(v *site.Visit) (site.View, error) {
	return s.statementsOf(v, "members/"+v.PathValue("number"))
}

func (s room) statementsOf(v *site.Visit, member string) (site.View, error) {
	years, err := s.yearsOf(v, member)
	if err != nil {
		return site.View{}, err
	}
	var all []*settlementv1.Statement
	for _, year := range years {
		one, err := s.Settlement.GetStatement(v.Ctx, &settlementv1.GetStatementRequest{Member: member, CropYear: year})
		if err != nil {
			return site.View{}, err
		}
		all = append(all, one)
	}
	own, back := v.BackTo(member)
	return site.View{Page: "statements", Title: "Statements", Data: map[string]any{"Statements": all, "Own": own, "Back": back}}, nil
}

// readStatement is a statement for the screen; the PDF beside it says the same and carries the same code.
func (s room) readStatement(v *site.Visit) (site.View, error) {
	year, err := strconv.ParseInt(v.PathValue("year"), 10, 32)
	if err != nil {
		return site.View{}, site.ErrNoPage
	}
	found, err := s.Settlement.GetStatement(v.Ctx, &settlementv1.GetStatementRequest{Member: "members/" + v.PathValue("number"), CropYear: int32(year)})
	if err != nil {
		return site.View{}, err
	}
	own, _ := v.BackTo(found.GetMember())
	return site.View{Page: "statement", Title: "Statement " + v.PathValue("year"), Data: map[string]any{"Statement": found, "Own": own}}, nil
}

// deliveryView is a delivery with the part of it that is the reader's own.
type deliveryView struct {
	*intakev1.Ticket
	// Share is the reader's percentage; empty where there is one owner.
	Share  string
	Others int
}

// deliveries are a member's tickets with who owns which part of them.
func (s room) deliveries(v *site.Visit) (site.View, error) {
	found, err := s.Intake.ListTickets(v.Ctx, &intakev1.ListTicketsRequest{Member: v.Who.Member, PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	var rows []deliveryView
	for _, t := range found.GetTickets() {
		row := deliveryView{Ticket: t, Others: len(t.GetOwners()) - 1}
		for _, owner := range t.GetOwners() {
			if owner.GetMember() == v.Who.Member && row.Others > 0 {
				row.Share = owner.GetSharePercent()
			}
		}
		rows = append(rows, row)
	}
	return site.View{Page: "deliveries", Title: "Your deliveries", Data: map[string]any{"Deliveries": rows, "Next": site.NextPage(v, found.GetNextPageToken())}}, nil
}
