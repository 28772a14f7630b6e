package web

import (
	"slices"

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

func (s *site) standards(v *visit) (view, error) {
	found, err := s.grading.ListStandards(v.ctx, &gradingv1.ListStandardsRequest{})
	if err != nil {
		return view{}, err
	}
	return view{page: "standards", title: "Grade standards", data: found.GetStandards()}, nil
}
