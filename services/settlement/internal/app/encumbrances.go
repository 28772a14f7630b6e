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
	"barrelhead.example/services/settlement/internal/domain/payment"
)

// encumbrance is one notice, or NOT_FOUND.
func (a *App) encumbrance(ctx context.Context, q pg.Querier, name string) (*payment.Encumbrance, error) {
	id, err := identity(name, "encumbrances")
	if err != nil {
		return nil, err
	}
	e, err := a.Store.Encumbrance(ctx, q, id)
	if err == nil && e == nil {
		err = apierr.NotFound(name)
	}
	return e, err
}

// RegisterEncumbrance registers a right of somebody else in a member's money.
func (a *App) RegisterEncumbrance(ctx context.Context, req *settlementv1.RegisterEncumbranceRequest) (*settlementv1.Encumbrance, error) {
	draft, err := a.readEncumbrance(req.GetEncumbrance())
	if err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.Encumbrance, []feed.Fact, error) {
		// Payments are released under the same lock: a notice is in time or it is not, never half.
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		if err := a.payee(ctx, tx, draft.Member); err != nil {
			return nil, nil, err
		}
		e := *draft
		e.Registrar, e.RegisterTime = access.From(ctx).Login, a.Clock.Now()
		if e.ID, err = uuid.NewRandom(); err != nil {
			return nil, nil, fmt.Errorf("name the notice: %w", err)
		}
		return a.encumbranceToProto(&e), nil, a.Store.InsertEncumbrance(ctx, tx, &e)
	})
}

func (a *App) readEncumbrance(p *settlementv1.Encumbrance) (*payment.Encumbrance, error) {
	var f faultList
	e := &payment.Encumbrance{
		Member: p.GetMember(), Kind: payment.EncumbranceKind(p.GetKind()), Creditor: p.GetCreditor(), Document: p.GetDocument(), Unresolved: p.GetUnresolved(),
		CropYear: int(p.GetCropYear()),
	}
	var err error
	e.Percent, err = quantity.ParsePercent(p.GetPercent())
	f.note("encumbrance.percent", err)
	e.Received, err = domain.ParseDate(p.GetReceiveDate())
	f.note("encumbrance.receive_date", err)
	if p.GetExpireDate() != "" {
		e.Expires, err = domain.ParseDate(p.GetExpireDate())
		f.note("encumbrance.expire_date", err)
	}
	if p.GetLimit() != nil {
		e.Limit, err = wire.EnteredFromProto(p.GetLimit(), a.Terms.Currency)
		f.note("encumbrance.limit", err)
		if err == nil && e.Limit == 0 {
			f = append(f, apierr.Fault{Field: "encumbrance.limit", Message: "is 0.00; it must be above 0.00, or be left out"})
		}
	}
	return e, refuse("encumbrance", f, e.Validate())
}

// RecordEncumbranceRelease records one party's release.
func (a *App) RecordEncumbranceRelease(ctx context.Context, req *settlementv1.RecordEncumbranceReleaseRequest) (*settlementv1.Encumbrance, error) {
	signed, err := domain.ParseDate(req.GetSignDate())
	if err != nil {
		return nil, apierr.Field("sign_date", err.Error())
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.Encumbrance, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		e, err := a.encumbrance(ctx, tx, req.GetName())
		if err != nil {
			return nil, nil, err
		}
		now := a.Clock.Now()
		r := payment.Release{
			Party: payment.Party(req.GetParty()), Signer: req.GetSigner(), Signed: signed, Document: req.GetDocument(), Recorder: access.From(ctx).Login, Time: now,
		}
		if err := refuse("", nil, r.Validate(e.Received, a.date(now))); err != nil {
			return nil, nil, err
		}
		if err := e.Release(r); err != nil {
			return nil, nil, err
		}
		return a.encumbranceToProto(e), nil, a.Store.InsertEncumbranceRelease(ctx, tx, e.ID, r)
	})
}

// EndEncumbrance records that a notice counts no more.
func (a *App) EndEncumbrance(ctx context.Context, req *settlementv1.EndEncumbranceRequest) (*settlementv1.Encumbrance, error) {
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.Encumbrance, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		e, err := a.encumbrance(ctx, tx, req.GetName())
		if err != nil {
			return nil, nil, err
		}
		login := access.From(ctx).Login
		if err := e.MayEnd(login); err != nil {
			return nil, nil, err
		}
		e.Ender, e.EndDocument = login, req.GetEndDocument()
		return a.encumbranceToProto(e), nil, a.Store.InsertEnd(ctx, tx, e, a.Clock.Now())
	})
}

// ListEncumbrances pages through notices.
func (a *App) ListEncumbrances(ctx context.Context, req *settlementv1.ListEncumbrancesRequest) (*settlementv1.ListEncumbrancesResponse, error) {
	var before int64
	size, err := begin(req, &before)
	if err != nil {
		return nil, err
	}
	found, err := a.Store.ListEncumbrances(ctx, a.DB.Pool(), req.GetMember(), before, size+1)
	if err != nil {
		return nil, err
	}
	out := &settlementv1.ListEncumbrancesResponse{}
	found, out.NextPageToken = page.Cut(found, size, req, func(e *payment.Encumbrance) any { return e.Place })
	for _, e := range found {
		out.Encumbrances = append(out.Encumbrances, a.encumbranceToProto(e))
	}
	return out, nil
}

func (a *App) encumbranceToProto(e *payment.Encumbrance) *settlementv1.Encumbrance {
	out := &settlementv1.Encumbrance{
		Name: e.Name(), Member: e.Member, Kind: settlementv1.EncumbranceKind(e.Kind), Creditor: e.Creditor, Percent: e.Percent.String(), Document: e.Document, //nolint:gosec // one of four
		ReceiveDate: string(e.Received), ExpireDate: string(e.Expires), Unresolved: e.Unresolved, Registrar: e.Registrar, RegisterTime: stamp(e.RegisterTime),
		Ender: e.Ender, EndDocument: e.EndDocument, Taken: wire.MoneyToProto(e.Taken, a.Terms.Currency), CropYear: int32(e.CropYear), //nolint:gosec // a year
	}
	if e.Limit > 0 {
		out.Limit = wire.MoneyToProto(e.Limit, a.Terms.Currency)
	}
	for _, r := range e.Releases {
		out.Releases = append(out.Releases, &settlementv1.EncumbranceRelease{
			Party: settlementv1.ReleaseParty(r.Party), Signer: r.Signer, SignDate: string(r.Signed), Document: r.Document, Recorder: r.Recorder, RecordTime: stamp(r.Time), //nolint:gosec // one of two
		})
	}
	if e.Ender == "" && !e.Unresolved {
		for _, p := range e.Missing() {
			out.ReleasesMissing = append(out.ReleasesMissing, settlementv1.ReleaseParty(p)) //nolint:gosec // one of two
		}
	}
	return out
}
