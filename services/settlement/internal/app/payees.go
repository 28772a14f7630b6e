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
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain/payment"
)

// EnterPayeeAccount enters where a payee's money is to go.
func (a *App) EnterPayeeAccount(ctx context.Context, req *settlementv1.EnterPayeeAccountRequest) (*settlementv1.PayeeAccount, error) {
	p := req.GetPayeeAccount()
	draft := payment.Account{
		Payee: p.GetPayee(), Holder: p.GetHolder(), Routing: p.GetRoutingNumber(), Number: p.GetAccountNumber(), Savings: p.GetSavings(),
		IBAN: strings.ReplaceAll(strings.ToUpper(p.GetIban()), " ", ""),
	}
	if err := refuse("payee_account", nil, draft.Validate()); err != nil {
		return nil, err
	}
	marked, err := a.marked(req)
	if err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, marked, func(ctx context.Context, tx pgx.Tx) (*settlementv1.PayeeAccount, []feed.Fact, error) {
		if err := a.payee(ctx, tx, draft.Payee); err != nil {
			return nil, nil, err
		}
		made, now := draft, a.Clock.Now()
		made.Enterer, made.EnterTime, made.UsableFrom = access.From(ctx).Login, now, a.date(now.AddDate(0, 0, payment.CoolOff))
		var err error
		if made.ID, err = uuid.NewRandom(); err != nil {
			return nil, nil, fmt.Errorf("name the account: %w", err)
		}
		if err := made.Seal(a.Keys); err != nil {
			return nil, nil, err
		}
		return accountToProto(&made), nil, a.Store.InsertAccount(ctx, tx, &made)
	})
}

// payee refuses a payee that does not exist.
func (a *App) payee(ctx context.Context, q pg.Querier, name string) error {
	if strings.HasPrefix(name, "members/") {
		known, err := a.Store.KnowsMember(ctx, q, name)
		if err == nil && !known {
			err = apierr.NotFound(name)
		}
		return err
	}
	_, err := a.encumbrance(ctx, q, name)
	return err
}

// VerifyPayeeAccount records that the payee was called back.
func (a *App) VerifyPayeeAccount(ctx context.Context, req *settlementv1.VerifyPayeeAccountRequest) (*settlementv1.PayeeAccount, error) {
	id, err := identity(req.GetName(), "payeeAccounts")
	if err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.PayeeAccount, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		account, err := a.Store.Account(ctx, tx, id)
		if err != nil {
			return nil, nil, err
		}
		if account == nil {
			return nil, nil, apierr.NotFound(req.GetName())
		}
		actor, now := access.From(ctx), a.Clock.Now()
		if err := account.MayVerify(actor.Login, actor.Member); err != nil {
			return nil, nil, err
		}
		account.Verifier, account.Verification, account.VerifyTime = actor.Login, req.GetVerification(), &now
		return accountToProto(account), nil, a.Store.InsertVerification(ctx, tx, account)
	})
}

// ListPayeeAccounts pages through accounts.
func (a *App) ListPayeeAccounts(ctx context.Context, req *settlementv1.ListPayeeAccountsRequest) (*settlementv1.ListPayeeAccountsResponse, error) {
	var before int64
	size, err := begin(req, &before)
	if err != nil {
		return nil, err
	}
	found, err := a.Store.ListAccounts(ctx, a.DB.Pool(), req.GetPayee(), before, size+1)
	if err != nil {
		return nil, err
	}
	out := &settlementv1.ListPayeeAccountsResponse{}
	found, out.NextPageToken = page.Cut(found, size, req, func(p *payment.Account) any { return p.Place })
	for _, p := range found {
		out.PayeeAccounts = append(out.PayeeAccounts, accountToProto(p))
	}
	return out, nil
}

// accountToProto writes an account by its last four only.
func accountToProto(p *payment.Account) *settlementv1.PayeeAccount {
	out := &settlementv1.PayeeAccount{
		Name: p.Name(), Payee: p.Payee, Holder: p.Holder, RoutingNumber: p.Routing, Savings: p.Savings, Enterer: p.Enterer, EnterTime: stamp(p.EnterTime),
		Verifier: p.Verifier, Verification: p.Verification, UsableFrom: string(p.UsableFrom),
	}
	if p.International() {
		out.Iban = p.Ending()
	} else {
		out.AccountNumber = p.Ending()
	}
	if p.VerifyTime != nil {
		out.VerifyTime = stamp(*p.VerifyTime)
	}
	return out
}
