package web

import (
	"strings"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/apierr"
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
		owners, err := typedOwners(f, "lines")
		if err != nil {
			return "", err
		}
		_, err = s.intake.SetStandingSplit(v.ctx, &intakev1.SetStandingSplitRequest{
			RequestId: f.RequestID, Member: name, EffectiveDate: f.Value("effective_date"), Note: f.Value("note"), Owners: owners,
		})
		return "/" + name + "/splits", err
	})
}

// typedOwners reads one owner a line: member and percent.
func typedOwners(f *form, field string) ([]*intakev1.OwnerShare, error) {
	var owners []*intakev1.OwnerShare
	for n, cells := range linesOf(f.Value(field)) {
		if len(cells) != 2 {
			f.badLine(field, n, "member and percent")
			return nil, apierr.Field(field, strings.TrimSuffix(f.Problem, "."))
		}
		owners = append(owners, &intakev1.OwnerShare{Member: memberName(cells[0]), SharePercent: decimal(cells[1])})
	}
	return owners, nil
}
