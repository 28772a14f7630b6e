package lab

import (
	"slices"

	"barrelhead.example/gateway/internal/web/site"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
)

// limitGroup is the limits of one factor that are printed in one place.
type limitGroup struct {
	Factor             gradingv1.Factor
	Source, Provenance string
	Limits             []*gradingv1.StandardLimit
}

// limitGroups sorts limits by factor and source, in the order they come in, so that neither is said twice.
func limitGroups(limits []*gradingv1.StandardLimit) []*limitGroup {
	var groups []*limitGroup
	for _, l := range limits {
		at := slices.IndexFunc(groups, func(g *limitGroup) bool {
			return g.Factor == l.GetFactor() && g.Source == l.GetSource() && g.Provenance == l.GetProvenance()
		})
		if at < 0 {
			at, groups = len(groups), append(groups, &limitGroup{Factor: l.GetFactor(), Source: l.GetSource(), Provenance: l.GetProvenance()})
		}
		groups[at].Limits = append(groups[at].Limits, l)
	}
	return groups
}

func (s room) standards(v *site.Visit) (site.View, error) {
	found, err := s.Grading.ListStandards(v.Ctx, &gradingv1.ListStandardsRequest{})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "standards", Title: "Grade standards", Data: found.GetStandards()}, nil
}
