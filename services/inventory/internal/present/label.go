package present

import (
	"google.golang.org/protobuf/types/known/timestamppb"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/label"
	"barrelhead.example/services/kit/quantity"
)

// ClaimPrefix stands before a claim in the enum.
const ClaimPrefix = "LABEL_CLAIM_"

// Label shows a label.
func Label(l label.Label) *inventoryv1.Label {
	m := &inventoryv1.Label{
		Name: l.Name(), Title: l.Title, Rules: Rules(l.Rules), Creator: l.Creator, CreateTime: timestamppb.New(l.Time),
		ShelfLifeMonths: int32(l.ShelfMonths), //nolint:gosec // 60 at most
		Face:            &inventoryv1.LabelFace{Gtin: l.Face.GTIN, Origin: l.Face.Origin, InfantCaution: l.Face.InfantCaution, CertifiedClaims: l.Face.Certified},
	}
	if l.Face.Ounces > 0 {
		m.Face.NetOunces, m.Face.NetGrams = quantity.FormatFixed(l.Face.Ounces, 2, 0), quantity.FormatFixed(l.Face.Grams, 1, 0)
	}
	for _, c := range l.Face.Claims {
		m.Face.Claims = append(m.Face.Claims, inventoryv1.LabelClaim(inventoryv1.LabelClaim_value[ClaimPrefix+string(c)]))
	}
	if l.Face.MaxCelsius != nil {
		m.Face.MaxCelsius = l.Face.MaxCelsius.String()
	}
	if l.Approval != nil {
		m.Approver, m.Evidence, m.ApproveTime = l.Approval.Approver, l.Approval.Evidence, timestamppb.New(l.Approval.Time)
	}
	return m
}
