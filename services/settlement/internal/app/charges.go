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
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/ledger"
)

// MemberStore is where the rest of members' accounts is kept.
type MemberStore interface {
	InsertMemberEntries(ctx context.Context, tx pgx.Tx, entries ...*domain.MemberEntry) error
	ListCharges(ctx context.Context, q pg.Querier, member string, before int64, limit int) ([]*domain.MemberEntry, error)
	MemberEntries(ctx context.Context, q pg.Querier, member string) ([]*domain.MemberEntry, error)

	InsertHaulingRate(ctx context.Context, tx pgx.Tx, r domain.HaulingRate) error
	HaulingRates(ctx context.Context, q pg.Querier) ([]domain.HaulingRate, error)
	TicketBarrels(ctx context.Context, q pg.Querier, number string) ([]domain.Hauled, error)
	Handled(ctx context.Context, q pg.Querier, from, through domain.Date) (quantity.Mass, quantity.Money, error)

	InsertDesignation(ctx context.Context, tx pgx.Tx, d domain.Designation) error
	InsertRefund(ctx context.Context, tx pgx.Tx, r *domain.Refund) error
	Refunds(ctx context.Context, q pg.Querier) ([]*domain.Refund, error)
	Patrons(ctx context.Context, q pg.Querier, cropYear int) ([]domain.Patron, error)
}

// ChargeMember charges or credits.
func (a *App) ChargeMember(ctx context.Context, req *settlementv1.ChargeMemberRequest) (*settlementv1.MemberCharge, error) {
	draft, err := a.readMemberCharge(req.GetCharge())
	if err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.MemberCharge, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		if err := a.knownMember(ctx, tx, draft.Member); err != nil {
			return nil, nil, err
		}
		e := *draft
		facts, err := a.charge(ctx, tx, &e)
		if err != nil {
			return nil, nil, err
		}
		return a.chargeToProto(&e), facts, nil
	})
}

// charge saves and books charges, and gives what happened. The gate must be held. Errors: *domain.StateError for the caller's
// own account.
func (a *App) charge(ctx context.Context, tx pgx.Tx, entries ...*domain.MemberEntry) ([]feed.Fact, error) {
	actor, now := access.From(ctx), a.Clock.Now()
	booked, facts := make([]*ledger.Entry, len(entries)), make([]feed.Fact, len(entries))
	for i, e := range entries {
		if actor.Member == e.Member {
			return nil, &domain.StateError{Resource: e.Member, State: "INTERESTED", Message: "this is your own account; another person must charge or credit it"}
		}
		var err error
		if e.ID, err = uuid.NewRandom(); err != nil {
			return nil, fmt.Errorf("name the charge: %w", err)
		}
		if e.Date == "" {
			e.Date = a.date(now)
		}
		e.Recorder, e.Time = actor.Login, now
		booked[i] = ledger.ForCharge(e)
		facts[i] = feed.Fact{Aggregate: e.Name(), Payload: &settlementv1.MemberCharged{Charge: a.chargeToProto(e)}}
	}
	if err := a.Store.InsertMemberEntries(ctx, tx, entries...); err != nil {
		return nil, err
	}
	return facts, a.book(ctx, tx, booked...)
}

// Deposit charges or gives back what a move of containers calls for, in the transaction that tells of it. It is on the books on
// the day of the move.
func (a *App) Deposit(ctx context.Context, tx pgx.Tx, e *domain.MemberEntry) ([]feed.Fact, error) {
	if err := a.Store.LockGate(ctx, tx); err != nil {
		return nil, err
	}
	e.Date = a.date(e.Time)
	if err := a.Store.InsertMemberEntries(ctx, tx, e); err != nil {
		return nil, err
	}
	fact := feed.Fact{Aggregate: e.Name(), Payload: &settlementv1.MemberCharged{Charge: a.chargeToProto(e)}, OccurTime: e.Time}
	return []feed.Fact{fact}, a.book(ctx, tx, ledger.ForCharge(e))
}

func (a *App) readMemberCharge(p *settlementv1.MemberCharge) (*domain.MemberEntry, error) {
	var f faultList
	e := &domain.MemberEntry{Member: p.GetMember(), Kind: domain.EntryKind(p.GetKind()), Description: p.GetDescription(), Authority: p.GetAuthority()}
	var err error
	e.Amount, err = wire.EnteredFromProto(p.GetAmount(), a.Terms.Currency)
	f.note("charge.amount", err)
	e.Date, err = domain.ParseDate(p.GetEntryDate())
	f.note("charge.entry_date", err)
	return e, refuse("charge", f, e.ValidateCharge(a.date(a.Clock.Now())))
}

// ListMemberCharges pages through charges.
func (a *App) ListMemberCharges(ctx context.Context, req *settlementv1.ListMemberChargesRequest) (*settlementv1.ListMemberChargesResponse, error) {
	member, err := a.visible(ctx, req.GetMember())
	if err != nil {
		return nil, err
	}
	var before int64
	size, err := begin(req, &before)
	if err != nil {
		return nil, err
	}
	found, err := a.Store.ListCharges(ctx, a.DB.Pool(), member, before, size+1)
	if err != nil {
		return nil, err
	}
	out := &settlementv1.ListMemberChargesResponse{}
	found, out.NextPageToken = page.Cut(found, size, req, func(e *domain.MemberEntry) any { return e.Place })
	for _, e := range found {
		out.Charges = append(out.Charges, a.chargeToProto(e))
	}
	return out, nil
}

func (a *App) chargeToProto(e *domain.MemberEntry) *settlementv1.MemberCharge {
	return &settlementv1.MemberCharge{
		Name: e.Name(), Member: e.Member, Kind: settlementv1.ChargeKind(e.Kind), Amount: wire.MoneyToProto(e.Amount, a.Terms.Currency), //nolint:gosec // one of five
		Description: e.Description, Authority: e.Authority, EntryDate: string(e.Date), Calculation: e.Calculation, Recorder: e.Recorder, RecordTime: stamp(e.Time),
	}
}

// SetHaulingRate records a rate.
func (a *App) SetHaulingRate(ctx context.Context, req *settlementv1.SetHaulingRateRequest) (*settlementv1.HaulingRate, error) {
	p := req.GetHaulingRate()
	var f faultList
	r := domain.HaulingRate{Zone: p.GetZone(), Resolution: p.GetResolution()}
	var err error
	r.Effective, err = domain.ParseDate(p.GetEffectiveDate())
	f.note("hauling_rate.effective_date", err)
	r.Rate, err = wire.PriceFromProto(p.GetRate(), a.Terms.Currency, a.Terms.Unit)
	f.note("hauling_rate.rate", err)
	if err := refuse("hauling_rate", f, r.Validate()); err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.HaulingRate, []feed.Fact, error) {
		set := r
		set.Setter, set.Time = access.From(ctx).Login, a.Clock.Now()
		return a.haulingRateToProto(set), nil, a.Store.InsertHaulingRate(ctx, tx, set)
	})
}

// ListHaulingRates lists all rates.
func (a *App) ListHaulingRates(ctx context.Context, _ *settlementv1.ListHaulingRatesRequest) (*settlementv1.ListHaulingRatesResponse, error) {
	rates, err := a.Store.HaulingRates(ctx, a.DB.Pool())
	out := &settlementv1.ListHaulingRatesResponse{}
	for _, r := range rates {
		out.HaulingRates = append(out.HaulingRates, a.haulingRateToProto(r))
	}
	return out, err
}

func (a *App) haulingRateToProto(r domain.HaulingRate) *settlementv1.HaulingRate {
	return &settlementv1.HaulingRate{
		Zone: r.Zone, EffectiveDate: string(r.Effective), Rate: wire.PriceToProto(r.Rate, a.Terms.Currency, a.Terms.Unit), Resolution: r.Resolution,
		Setter: r.Setter, SetTime: stamp(r.Time),
	}
}

// ChargeHauling charges a fetched delivery, once.
func (a *App) ChargeHauling(ctx context.Context, req *settlementv1.ChargeHaulingRequest) (*settlementv1.ChargeHaulingResponse, error) {
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.ChargeHaulingResponse, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		barrels, err := a.Store.TicketBarrels(ctx, tx, req.GetTicketNumber())
		if err != nil {
			return nil, nil, err
		}
		if len(barrels) == 0 {
			return nil, nil, apierr.NotFound("tickets/" + req.GetTicketNumber())
		}
		rates, err := a.Store.HaulingRates(ctx, tx)
		if err != nil {
			return nil, nil, err
		}
		rate, err := domain.RateFor(rates, req.GetZone(), barrels[0].Date)
		if err != nil {
			return nil, nil, err
		}
		entries, err := domain.ChargeHauling(req.GetTicketNumber(), barrels, rate, a.Terms)
		if err != nil {
			return nil, nil, err
		}
		facts, err := a.charge(ctx, tx, entries...)
		if err != nil {
			return nil, nil, err
		}
		out := &settlementv1.ChargeHaulingResponse{}
		var sum quantity.Money
		for _, e := range entries {
			sum += e.Amount
			out.Charges = append(out.Charges, a.chargeToProto(e))
		}
		out.Total = wire.MoneyToProto(sum, a.Terms.Currency)
		return out, facts, nil
	})
}
