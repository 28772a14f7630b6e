package gatetest

import (
	"context"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
)

// ListEquity answers Juniper's capital of two years.
func (h *House) ListEquity(ctx context.Context, r *settlementv1.ListEquityRequest) (*settlementv1.ListEquityResponse, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	if r.GetMember() != Juniper || !access.SeesMember(ctx, r.GetMember()) {
		return nil, apierr.NotFound(r.GetMember())
	}
	lot := func(year int32, class settlementv1.EquityClass, issued, redeemed, balance string) *settlementv1.EquityLot {
		return &settlementv1.EquityLot{Member: Juniper, CropYear: year, EquityClass: class, Issued: usd(issued), Redeemed: usd(redeemed), Balance: usd(balance)}
	}
	return &settlementv1.ListEquityResponse{
		Lots: []*settlementv1.EquityLot{
			lot(2025, settlementv1.EquityClass_EQUITY_CLASS_RETAIN_QUALIFIED, "57.55", "28.78", "28.77"), lot(2026, settlementv1.EquityClass_EQUITY_CLASS_RETAIN_UNDESIGNATED, "57.62", "0.00", "57.62"),
		},
		Corrections: []*settlementv1.EquityCorrection{correction()}, Balance: usd("86.39"), Caution: "this is not tax advice, and no promise of when capital is given back",
	}, nil
}

func (h *House) RedeemEquity(ctx context.Context, r *settlementv1.RedeemEquityRequest) (*settlementv1.Redemption, error) {
	return &settlementv1.Redemption{Name: "redemptions/1", CropYear: r.GetCropYear(), Percent: r.GetPercent(), Resolution: r.GetResolution(), Members: 41, Total: usd("1204.10")}, h.note(ctx, r)
}

func (h *House) CompareMembers(ctx context.Context, r *settlementv1.CompareMembersRequest) (*settlementv1.CompareMembersResponse, error) {
	return &settlementv1.CompareMembersResponse{Groups: []*settlementv1.MemberGroup{
		{Description: "1 barrel", Suppressed: true},
		{Description: "2 to 10 barrels", Members: 12, Payable: lb("41210.5"), Average: &typev1.Price{Amount: "1.871204", CurrencyCode: "USD", PerUnit: "LB"}},
		{Description: "11 to 50 barrels", Members: 9, Payable: lb("118201.0"), Average: &typev1.Price{Amount: "1.869911", CurrencyCode: "USD", PerUnit: "LB"}},
		{Description: "more than 50 barrels", Suppressed: true},
	}}, h.note(ctx, r)
}
