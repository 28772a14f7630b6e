package web

import (
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

const (
	listSplits = intakev1.IntakeService_ListStandingSplits_FullMethodName
	setSplit   = intakev1.IntakeService_SetStandingSplit_FullMethodName
)

// splits is who owns what a member delivers, from which date on.
func (s *site) splits(v *visit) (view, error) {
	name := "members/" + v.PathValue("number")
	found, err := s.intake.ListStandingSplits(v.ctx, &intakev1.ListStandingSplitsRequest{Member: name, PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	return view{page: "splits", title: "Owners of what " + idOf(name) + " delivers", data: map[string]any{
		"Member": name, "Splits": found.GetStandingSplits(), "Next": nextPage(v, found.GetNextPageToken()), "MaySet": v.mayCall(setSplit), "MayTotal": v.mayCall(getTotal),
	}}, nil
}

// newSplit takes one owner a line; no line gives everything back to the member.
func (s *site) newSplit(v *visit) (view, error) {
	f := v.form()
	name := "members/" + v.PathValue("number")
	return s.plainTask(v, f, "newsplit", "Agree on owners", map[string]any{"Member": name}, func() (string, error) {
		request := &intakev1.SetStandingSplitRequest{RequestId: f.RequestID, Member: name, EffectiveDate: f.Value("effective_date"), Note: f.Value("note")}
		for n, cells := range linesOf(f.Value("lines")) {
			if len(cells) != 2 {
				f.badLine("lines", n, "member and percent")
				return "", badLines(f)
			}
			request.Owners = append(request.Owners, &intakev1.OwnerShare{Member: memberName(cells[0]), SharePercent: decimal(cells[1])})
		}
		_, err := s.intake.SetStandingSplit(v.ctx, request)
		return "/" + name + "/splits", err
	})
}
