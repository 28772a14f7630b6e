package app

import (
	"bytes"
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"
	"google.golang.org/protobuf/proto"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/settlement/internal/domain"
)

// SealAccounts seals the account numbers of releases that kept them in clear text, and those under a key that is not the
// current one any more. Doing it again changes nothing; without a key nothing can be done.
func (a *App) SealAccounts(ctx context.Context) error {
	if a.Keys.Current() == "" {
		return nil
	}
	return a.DB.InTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		accounts, err := a.Store.AccountsSealedOtherwise(ctx, tx, a.Keys.Current())
		if err != nil {
			return err
		}
		for _, p := range accounts {
			if err := p.Unseal(a.Keys); err != nil {
				return err
			}
			if err := p.Seal(a.Keys); err != nil {
				return err
			}
			if err := a.Store.SealAccount(ctx, tx, p); err != nil {
				return err
			}
		}
		return nil
	})
}

// marked is the request as the ledger of requests may know it: its digest must not let anybody try account numbers until one
// fits.
func (a *App) marked(req *settlementv1.EnterPayeeAccountRequest) (*settlementv1.EnterPayeeAccountRequest, error) {
	out := proto.CloneOf(req)
	p := out.GetPayeeAccount()
	mark, err := a.Keys.Mark(p.GetAccountNumber() + "/" + p.GetIban())
	if err != nil {
		return nil, &domain.StateError{Resource: "payeeAccounts", State: "NO_KEY", Message: "account numbers cannot be kept: " + err.Error() + "; name a file in account_key_files"}
	}
	p.AccountNumber, p.Iban = mark, ""
	return out, nil
}

// sealedFile begins what stands in the ledger of requests in place of a payment file, which holds account numbers.
const sealedFile = "sealed/"

// sealFile makes the content of a file unreadable for the ledger of requests.
func (a *App) sealFile(f *settlementv1.PaymentFile) (*settlementv1.PaymentFile, error) {
	id, sealed, err := a.Keys.Seal(f.GetContent(), f.GetSha256())
	if err != nil {
		return nil, &domain.StateError{Resource: f.GetFileName(), State: "NO_KEY", Message: "the file cannot be kept: " + err.Error() + "; name a file in account_key_files"}
	}
	out := proto.CloneOf(f)
	out.Content = append([]byte(sealedFile+id+"/"), sealed...)
	return out, nil
}

// openFile is the file as it was made. One that was handed out before files were sealed is as it is.
func (a *App) openFile(f *settlementv1.PaymentFile) (*settlementv1.PaymentFile, error) {
	rest, sealed := bytes.CutPrefix(f.GetContent(), []byte(sealedFile))
	if !sealed {
		return f, nil
	}
	id, content, _ := bytes.Cut(rest, []byte("/"))
	plain, err := a.Keys.Open(string(id), content, f.GetSha256())
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", f.GetFileName(), err)
	}
	out := proto.CloneOf(f)
	out.Content = plain
	return out, nil
}
