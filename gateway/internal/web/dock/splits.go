package dock

import (
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/apierr"
)

const (
	listSplits = intakev1.IntakeService_ListStandingSplits_FullMethodName
	setSplit   = intakev1.IntakeService_SetStandingSplit_FullMethodName
)

// splits is who owns what a member delivers, from which date on.
func (s room) splits(v *site.Visit) (site.View, error) {
	name := "members/" + v.PathValue("number")
	found, err := s.Intake.ListStandingSplits(v.Ctx, &intakev1.ListStandingSplitsRequest{Member: name, PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "splits", Title: "Owners of what " + site.IDOf(name) + " delivers", Data: map[string]any{
		"Member": name, "Splits": found.GetStandingSplits(), "Next": site.NextPage(v, found.GetNextPageToken()), "MaySet": v.MayCall(setSplit), "MayTotal": v.MayCall(getTotal),
	}}, nil
}

// newSplit takes one owner a line; no line gives everything back to the member.
func (s room) newSplit(v *site.Visit) (site.View, error) {
	f := v.Form()
	name := "members/" + v.PathValue("number")
	return s.PlainTask(v, f, "newsplit", "Agree on owners", map[string]any{"Member": name}, func() (string, error) {
		owners, err := typedOwners(f, "lines")
		if err != nil {
			return "", err
		}
		_, err = s.Intake.SetStandingSplit(v.Ctx, &intakev1.SetStandingSplitRequest{
			RequestId: f.RequestID, Member: name, EffectiveDate: f.Value("effective_date"), Note: f.Value("note"), Owners: owners,
		})
		return "/" + name + "/splits", err
	})
}

// typedOwners reads one owner a line: member and percent.
func typedOwners(f *site.Form, field string) ([]*intakev1.OwnerShare, error) {
	var owners []*intakev1.OwnerShare
	for n, cells := range site.LinesOf(f.Value(field)) {
		if len(cells) != 2 {
			f.BadLine(field, n, "member and percent")
			return nil, apierr.Field(field, strings.TrimSuffix(f.Problem, "."))
		}
		owners = append(owners, &intakev1.OwnerShare{Member: site.MemberName(cells[0]), SharePercent: site.Number(cells[1])})
	}
	return owners, nil
}
