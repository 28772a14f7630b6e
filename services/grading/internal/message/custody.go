package message

import (
	"cmp"

	"google.golang.org/protobuf/types/known/timestamppb"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
)

// Portion is the wire form of a portion; none is A.
func Portion(p string) gradingv1.SamplePortion {
	return gradingv1.SamplePortion(gradingv1.SamplePortion_value["SAMPLE_PORTION_"+cmp.Or(p, domain.PortionA)])
}

// CustodyGap is a gap in the chain of custody of a portion.
func CustodyGap(g *domain.CustodyGap) *gradingv1.CustodyGap {
	out := &gradingv1.CustodyGap{Portion: Portion(g.Portion), Reason: g.Reason}
	if !g.Since.IsZero() {
		out.SinceTime = timestamppb.New(g.Since)
	}
	return out
}

// CustodyGaps are those of a sample.
func CustodyGaps(list []domain.CustodyGap) []*gradingv1.CustodyGap {
	var out []*gradingv1.CustodyGap
	for i := range list {
		out = append(out, CustodyGap(&list[i]))
	}
	return out
}
