package app

import (
	"context"
	"fmt"
	"strings"

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
)

// DesignateRetains records what certificates a crop year's retains stand on.
func (a *App) DesignateRetains(ctx context.Context, req *settlementv1.DesignateRetainsRequest) (*settlementv1.RetainDesignation, error) {
	if req.GetQualified() && strings.TrimSpace(req.GetConsent()) == "" {
		return nil, apierr.Field("consent", "is missing; qualified certificates need the members' agreement (26 USC 1388(h)(2))")
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.RetainDesignation, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		d := domain.Designation{
			CropYear: int(req.GetCropYear()), Qualified: req.GetQualified(), Consent: req.GetConsent(), Resolution: req.GetResolution(),
			Declarer: access.From(ctx).Login, Time: a.Clock.Now(),
		}
		made := &settlementv1.RetainDesignation{
			CropYear: req.GetCropYear(), Qualified: d.Qualified, Consent: d.Consent, Resolution: d.Resolution, Declarer: d.Declarer, DeclareTime: stamp(d.Time),
		}
		fact := feed.Fact{Aggregate: fmt.Sprintf("retains/%d", d.CropYear), Payload: &settlementv1.RetainsDesignated{Designation: made}}
		return made, []feed.Fact{fact}, a.Store.InsertDesignation(ctx, tx, d)
	})
}

// AllocatePatronage shares a year's net earnings.
func (a *App) AllocatePatronage(ctx context.Context, req *settlementv1.AllocatePatronageRequest) (*settlementv1.PatronageRefund, error) {
	draft, err := a.readRefund(req)
	if err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.PatronageRefund, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		r := *draft
		r.Declarer, r.Time = access.From(ctx).Login, a.Clock.Now()
		if r.ID, err = uuid.NewRandom(); err != nil {
			return nil, nil, fmt.Errorf("name the refund: %w", err)
		}
		if err := a.allocate(ctx, tx, &r); err != nil {
			return nil, nil, err
		}
		made, err := a.refundToProto(&r)
		return made, []feed.Fact{{Aggregate: r.Name(), Payload: &settlementv1.PatronageAllocated{Refund: made}}}, err
	})
}

func (a *App) readRefund(req *settlementv1.AllocatePatronageRequest) (*domain.Refund, error) {
	var f faultList
	r := &domain.Refund{
		CropYear: int(req.GetCropYear()), Qualified: req.GetQualified(), Consent: req.GetConsent(), Resolution: req.GetResolution(), Date: a.date(a.Clock.Now()),
	}
	var err error
	r.FiscalEnd, err = domain.ParseDate(req.GetFiscalYearEnd())
	f.note("fiscal_year_end", err)
	r.Total, err = wire.EnteredFromProto(req.GetTotal(), a.Terms.Currency)
	f.note("total", err)
	r.CashPercent, err = quantity.ParsePercent(req.GetCashPercent())
	f.note("cash_percent", err)
	for _, rule := range r.Validate() {
		if !f.covers(rule.Path) {
			f = append(f, apierr.Fault{Field: rule.Path, Message: rule.Message})
		}
	}
	return r, apierr.Fields(f...)
}

// allocate shares, saves and books a refund. The gate must be held.
func (a *App) allocate(ctx context.Context, tx pgx.Tx, r *domain.Refund) error {
	patrons, err := a.Store.Patrons(ctx, tx, r.CropYear)
	if err != nil {
		return err
	}
	if err := r.Share(patrons); err != nil {
		return err
	}
	if err := a.Store.InsertRefund(ctx, tx, r); err != nil {
		return err
	}
	var entries []*domain.MemberEntry
	var booked []*ledger.Entry
	for _, p := range r.Parts {
		var cash *domain.MemberEntry
		if p.Cash > 0 {
			cash = &domain.MemberEntry{
				ID: uuid.NewSHA1(r.ID, []byte(p.Member)), Member: p.Member, Kind: domain.PatronageCash, Amount: p.Cash, Authority: r.Resolution, Date: r.Date,
				Description: fmt.Sprintf("Patronage refund for crop year %d, in money", r.CropYear), Recorder: r.Declarer, Time: r.Time,
				Calculation: fmt.Sprintf("%v %% of %s, up to the cent; %s as capital", r.CashPercent, a.Terms.Money(p.Cash+p.Notice), a.Terms.Money(p.Notice)),
			}
			entries = append(entries, cash)
		}
		booked = append(booked, ledger.ForPatronage(r, p, cash)...)
	}
	if err := a.Store.InsertMemberEntries(ctx, tx, entries...); err != nil {
		return err
	}
	return a.book(ctx, tx, booked...)
}

// ListPatronageRefunds lists what was shared.
func (a *App) ListPatronageRefunds(ctx context.Context, _ *settlementv1.ListPatronageRefundsRequest) (*settlementv1.ListPatronageRefundsResponse, error) {
	refunds, err := a.Store.Refunds(ctx, a.DB.Pool())
	if err != nil {
		return nil, err
	}
	out := &settlementv1.ListPatronageRefundsResponse{}
	for _, r := range refunds {
		row, err := a.refundToProto(r)
		if err != nil {
			return nil, err
		}
		out.PatronageRefunds = append(out.PatronageRefunds, row)
	}
	return out, nil
}

func (a *App) refundToProto(r *domain.Refund) (*settlementv1.PatronageRefund, error) {
	end, err := r.PeriodEnd()
	if err != nil {
		return nil, err
	}
	out := &settlementv1.PatronageRefund{
		Name: r.Name(), CropYear: int32(r.CropYear), FiscalYearEnd: string(r.FiscalEnd), PaymentPeriodEnd: string(end), //nolint:gosec // a year
		Total: wire.MoneyToProto(r.Total, a.Terms.Currency), Members: int32(len(r.Parts)), Qualified: r.Qualified, CashPercent: r.CashPercent.String(), //nolint:gosec // a count
		Resolution: r.Resolution, Declarer: r.Declarer, DeclareTime: stamp(r.Time),
	}
	var cash, notices quantity.Money
	for _, p := range r.Parts {
		cash, notices = cash+p.Cash, notices+p.Notice
		if p.Odd {
			out.OddCents = append(out.OddCents, strings.TrimPrefix(p.Member, "members/"))
		}
	}
	out.Cash, out.Notices = wire.MoneyToProto(cash, a.Terms.Currency), wire.MoneyToProto(notices, a.Terms.Currency)
	return out, nil
}
