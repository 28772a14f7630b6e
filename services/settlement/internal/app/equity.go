package app

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/ledger"
	"barrelhead.example/services/settlement/internal/domain/payment"
)

const equityCaution = "Equity is given back when the board resolves it, oldest year first; no date is promised. This is not tax advice: " +
	"how it is classified is for the cooperative's accountant; ask your own about your case."

// ListEquity lists a member's capital by crop year.
func (a *App) ListEquity(ctx context.Context, req *settlementv1.ListEquityRequest) (*settlementv1.ListEquityResponse, error) {
	if err := a.member(ctx, req.GetMember()); err != nil {
		return nil, err
	}
	lots, err := a.Store.EquityLots(ctx, a.DB.Pool(), req.GetMember())
	if err != nil {
		return nil, err
	}
	out := &settlementv1.ListEquityResponse{Caution: equityCaution}
	var sum quantity.Money
	for _, l := range lots {
		sum += l.Balance()
		out.Lots = append(out.Lots, a.lotToProto(l))
	}
	out.Balance = wire.MoneyToProto(sum, a.Terms.Currency)
	corrections, err := a.Store.EquityCorrections(ctx, a.DB.Pool(), req.GetMember())
	for _, c := range corrections {
		out.Corrections = append(out.Corrections, a.correctionToProto(c))
	}
	return out, err
}

func (a *App) lotToProto(l domain.EquityLot) *settlementv1.EquityLot {
	return &settlementv1.EquityLot{
		Member: l.Member, CropYear: int32(l.CropYear), Issued: wire.MoneyToProto(l.Issued, a.Terms.Currency), //nolint:gosec // a year
		Redeemed: wire.MoneyToProto(l.Redeemed, a.Terms.Currency), Balance: wire.MoneyToProto(l.Balance(), a.Terms.Currency),
		EquityClass: settlementv1.EquityClass(l.Class), //nolint:gosec // one of five
	}
}

// RedeemEquity gives back part of the oldest year's equity. It is owed from then on.
func (a *App) RedeemEquity(ctx context.Context, req *settlementv1.RedeemEquityRequest) (*settlementv1.Redemption, error) {
	percent, err := quantity.ParsePercent(req.GetPercent())
	if err != nil {
		return nil, apierr.Field("percent", err.Error())
	}
	if percent <= 0 || percent > 100_00 {
		return nil, apierr.Field("percent", fmt.Sprintf("is %v; it must be above 0 and at most 100", percent))
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.Redemption, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		r := &domain.Redemption{
			CropYear: int(req.GetCropYear()), Percent: percent, Resolution: req.GetResolution(), Declarer: access.From(ctx).Login, Time: a.Clock.Now(),
			Estate: req.GetEstate(),
		}
		if err := a.mustBeEstate(ctx, tx, r.Estate); err != nil {
			return nil, nil, err
		}
		var err error
		if r.ID, err = uuid.NewRandom(); err != nil {
			return nil, nil, fmt.Errorf("name the redemption: %w", err)
		}
		if err := a.redeem(ctx, tx, r); err != nil {
			return nil, nil, err
		}
		made := a.redemptionToProto(r)
		return made, []feed.Fact{{Aggregate: r.Name(), Payload: &settlementv1.EquityRedeemed{Redemption: made}, OccurTime: r.Time}}, nil
	})
}

// mustBeEstate wants registered heirs of a member whose equity is to be given back before its turn; empty is nobody.
func (a *App) mustBeEstate(ctx context.Context, tx pgx.Tx, member string) error {
	if member == "" {
		return nil
	}
	if err := a.knownMember(ctx, tx, member); err != nil {
		return err
	}
	notices, err := a.Store.StandingEncumbrances(ctx, tx)
	if err != nil {
		return err
	}
	for _, e := range notices {
		if e.Member == member && e.Kind == payment.Heir {
			return nil
		}
	}
	return &domain.StateError{Resource: member, State: "NO_ESTATE", Message: "no heirs of this member are registered; only an estate's equity is given back before its turn"}
}

func (a *App) redeem(ctx context.Context, tx pgx.Tx, r *domain.Redemption) error {
	lots, err := a.Store.EquityLots(ctx, tx, "")
	if err != nil {
		return err
	}
	if err := r.Redeem(lots); err != nil {
		return err
	}
	if err := a.Store.InsertRedemption(ctx, tx, r); err != nil {
		return err
	}
	return a.book(ctx, tx, ledger.ForRedemption(r, a.date(r.Time))...)
}

func (a *App) redemptionToProto(r *domain.Redemption) *settlementv1.Redemption {
	return &settlementv1.Redemption{
		Name: r.Name(), CropYear: int32(r.CropYear), Percent: r.Percent.String(), Resolution: r.Resolution, Declarer: r.Declarer, //nolint:gosec // a year
		DeclareTime: stamp(r.Time), Members: int32(r.Members()), Total: wire.MoneyToProto(r.Total(), a.Terms.Currency), //nolint:gosec // a count
		Estate: r.Estate,
	}
}
