package season

import (
	"context"
	"fmt"
	"io"
	"time"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// bankers is how many members have given the office a bank account.
const bankers = 5

// PayMembers enters and verifies the bank accounts of a few members, and releases one batch of payments to them. The bank's file, which
// is handed out once, is left to whoever looks at the demo. A batch that is there is not made again: it was prepared for a day
// counted from that of its own.
func (c *Crew) PayMembers(ctx context.Context) (*settlementv1.PaymentBatch, error) {
	for _, m := range c.Season.withAccounts() {
		if err := c.enterAccount(ctx, m); err != nil {
			return nil, err
		}
	}
	batch, err := c.batch(ctx)
	if err != nil || batch.GetState() != settlementv1.PaymentState_PAYMENT_STATE_PREPARED {
		return batch, err
	}
	err = c.do(ctx, deed{"treasurer", batch.GetName() + ":release", &settlementv1.ReleasePaymentsRequest{
		RequestId: RequestID("release payments", c.Season.CropYear), Name: batch.GetName(), Fingerprint: batch.GetFingerprint(),
	}, batch})
	return batch, err
}

// withAccounts are the first members whose money nobody else has a right in.
func (s Season) withAccounts() []Member {
	var out []Member
	for _, m := range s.Members {
		if m.Number != s.Estate && m.Number != s.Lien && len(out) < bankers {
			out = append(out, m)
		}
	}
	return out
}

// enterAccount enters an account and has it verified by another person. 111000025 is a published example of a valid routing number.
func (c *Crew) enterAccount(ctx context.Context, m Member) error {
	var account settlementv1.PayeeAccount
	if err := c.do(ctx, deed{"office", "payeeAccounts", &settlementv1.EnterPayeeAccountRequest{
		RequestId: RequestID("account", m.Number), PayeeAccount: &settlementv1.PayeeAccount{
			Payee: "members/" + m.Number, Holder: m.Name, RoutingNumber: "111000025", AccountNumber: "55010" + m.Number[len("M-"):],
		},
	}, &account}); err != nil {
		return err
	}
	return c.do(ctx, deed{"treasurer", account.GetName() + ":verify", &settlementv1.VerifyPayeeAccountRequest{
		RequestId: RequestID("verify account", m.Number), Name: account.GetName(), Verification: "Called the number on the member agreement",
	}, &settlementv1.PayeeAccount{}})
}

// batch is the first batch of payments; when there is none it is prepared, for a day on which new accounts may be used.
func (c *Crew) batch(ctx context.Context) (*settlementv1.PaymentBatch, error) {
	var found settlementv1.ListPaymentBatchesResponse
	if err := c.sessions["office"].Get(ctx, "/v1/paymentBatches?page_size=1000", &found); err != nil {
		return nil, err
	}
	if n := len(found.GetPaymentBatches()); n > 0 {
		return found.GetPaymentBatches()[n-1], nil
	}
	var made settlementv1.PaymentBatch
	err := c.do(ctx, deed{"office", "paymentBatches", &settlementv1.PreparePaymentsRequest{
		RequestId: RequestID("payments", c.Season.CropYear), PayDate: time.Now().AddDate(0, 0, 14).Format(time.DateOnly),
	}, &made})
	return &made, err
}

// PrintBatch says in a line what a batch of payments pays.
func PrintBatch(w io.Writer, b *settlementv1.PaymentBatch) error {
	_, err := fmt.Fprintf(w, "\nBatch %s pays %d members $%s on %s; %d balances are not paid yet, each with its reason.\n",
		b.GetNumber(), len(b.GetPayments()), b.GetTotal().GetAmount(), b.GetPayDate(), len(b.GetBlocked()))
	return err
}
