package app

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain/payment"
)

// ExportPaymentFile hands out the bank's file of a batch, once. Only the very same request gets it again, from the ledger of
// requests, where it is sealed: a repeat over a bad line is no second file.
func (a *App) ExportPaymentFile(ctx context.Context, req *settlementv1.ExportPaymentFileRequest) (*settlementv1.PaymentFile, error) {
	stored, err := idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.PaymentFile, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		b, err := a.batch(ctx, tx, req.GetName())
		if err != nil {
			return nil, nil, err
		}
		if err := b.MayExport(); err != nil {
			return nil, nil, err
		}
		file, err := a.file(ctx, tx, b)
		if err != nil {
			return nil, nil, err
		}
		made, err := a.render(file, req.GetFormat())
		if err != nil {
			return nil, nil, err
		}
		sealed, err := a.sealFile(made)
		if err != nil {
			return nil, nil, err
		}
		return sealed, nil, a.Store.InsertExport(ctx, tx, b.ID, int(req.GetFormat()), made.GetSha256(), access.From(ctx).Login, a.Clock.Now())
	})
	if err != nil {
		return nil, err
	}
	return a.openFile(stored)
}

func (a *App) file(ctx context.Context, tx pgx.Tx, b *payment.Batch) (payment.File, error) {
	f := payment.File{Number: b.Number, From: a.From, Made: a.Clock.Now().In(a.Zone), PayDate: b.PayDate, Currency: a.Terms.Currency}
	items, err := a.Store.BatchPayments(ctx, tx, b.ID)
	if err != nil {
		return f, err
	}
	ids := make([]uuid.UUID, len(items))
	for i, item := range items {
		ids[i] = item.Account
	}
	accounts, err := a.Store.AccountsByID(ctx, tx, ids)
	if err != nil {
		return f, err
	}
	byID := map[uuid.UUID]*payment.Account{}
	for _, p := range accounts {
		if err := p.Unseal(a.Keys); err != nil {
			return f, err
		}
		byID[p.ID] = p
	}
	for _, item := range items {
		f.Transfers = append(f.Transfers, payment.Transfer{Item: item, Target: byID[item.Account]})
	}
	return f, nil
}

func (a *App) render(f payment.File, format settlementv1.PaymentFormat) (*settlementv1.PaymentFile, error) {
	write, ending := f.ACH, "ach"
	if format == settlementv1.PaymentFormat_PAYMENT_FORMAT_PAIN_001 {
		write, ending = f.PAIN, "xml"
	}
	content, err := write()
	if err != nil {
		return nil, err
	}
	total, err := f.Total()
	return &settlementv1.PaymentFile{
		Content: content, FileName: fmt.Sprintf("%s.%s", f.Number, ending), Count: int32(len(f.Transfers)), //nolint:gosec // a count
		Total: wire.MoneyToProto(total, a.Terms.Currency), Sha256: payment.Fingerprint(content),
	}, err
}
