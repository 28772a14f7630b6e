package app

import (
	"context"
	"fmt"
	"time"

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
	"barrelhead.example/services/settlement/internal/domain/payment"
)

// usualMinimum is what a payment is worth the trouble from.
const usualMinimum = quantity.Money(10_00)

// propose lists the payments of a date from everything known now.
func (a *App) propose(ctx context.Context, q pg.Querier, minimum quantity.Money, on domain.Date) (*payment.List, error) {
	owed, err := a.Store.OwedNow(ctx, q)
	if err != nil {
		return nil, err
	}
	notices, err := a.Store.StandingEncumbrances(ctx, q)
	if err != nil {
		return nil, err
	}
	accounts, err := a.Store.NewestAccounts(ctx, q)
	if err != nil {
		return nil, err
	}
	ofMember, ofPayee := map[string][]*payment.Encumbrance{}, map[string]*payment.Account{}
	for _, e := range notices {
		ofMember[e.Member] = append(ofMember[e.Member], e)
	}
	for _, p := range accounts {
		ofPayee[p.Payee] = p
	}
	loans, err := a.loansDue(ctx, q, on)
	if err != nil {
		return nil, err
	}
	years, err := a.yearsOf(ctx, q, notices)
	if err != nil {
		return nil, err
	}
	for i := range owed {
		owed[i].Years = years[owed[i].Member]
		owed[i].Notices, owed[i].Loans, owed[i].Accounts = ofMember[owed[i].Member], loans[owed[i].Member], ofPayee
	}
	return payment.Propose(owed, minimum, on, a.Terms)
}

// PreparePayments lists what is owed to members now. It pays nothing.
func (a *App) PreparePayments(ctx context.Context, req *settlementv1.PreparePaymentsRequest) (*settlementv1.PaymentBatch, error) {
	draft, err := a.readBatch(req)
	if err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.PaymentBatch, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		b := *draft
		list, err := a.propose(ctx, tx, b.Minimum, b.PayDate)
		if err != nil {
			return nil, nil, err
		}
		if err := a.name(ctx, tx, &b); err != nil {
			return nil, nil, err
		}
		if b.Prepared, err = list.Bytes(); err != nil {
			return nil, nil, err
		}
		b.Fingerprint = payment.Fingerprint(b.Prepared)
		if err := a.Store.InsertBatch(ctx, tx, &b); err != nil {
			return nil, nil, err
		}
		made, err := a.batchToProto(&b)
		return made, nil, err
	})
}

func (a *App) readBatch(req *settlementv1.PreparePaymentsRequest) (*payment.Batch, error) {
	var f faultList
	b := &payment.Batch{Minimum: usualMinimum}
	var err error
	b.PayDate, err = domain.ParseDate(req.GetPayDate())
	f.note("pay_date", err)
	if today := a.date(a.Clock.Now()); err == nil && b.PayDate < today {
		f = append(f, apierr.Fault{Field: "pay_date", Message: fmt.Sprintf("is %s, before today, %s", b.PayDate, today)})
	}
	if req.GetMinimum() != nil {
		b.Minimum, err = wire.EnteredFromProto(req.GetMinimum(), a.Terms.Currency)
		f.note("minimum", err)
		if err == nil && b.Minimum < 0 {
			f = append(f, apierr.Fault{Field: "minimum", Message: "is below 0.00"})
		}
	}
	return b, apierr.Fields(f...)
}

func (a *App) name(ctx context.Context, tx pgx.Tx, b *payment.Batch) error {
	year := string(b.PayDate)[:4]
	before, err := a.Store.CountBatches(ctx, tx, year)
	if err != nil {
		return err
	}
	b.Number, b.Preparer, b.PrepareTime = fmt.Sprintf("P-%s-%03d", year, before+1), access.From(ctx).Login, a.Clock.Now()
	if b.ID, err = uuid.NewRandom(); err != nil {
		return fmt.Errorf("name the batch: %w", err)
	}
	return nil
}

// batch is one batch, or NOT_FOUND.
func (a *App) batch(ctx context.Context, q pg.Querier, name string) (*payment.Batch, error) {
	id, err := identity(name, "paymentBatches")
	if err != nil {
		return nil, err
	}
	b, err := a.Store.Batch(ctx, q, id)
	if err == nil && b == nil {
		err = apierr.NotFound(name)
	}
	return b, err
}

// ReleasePayments makes the payments of a batch, member by member, where nothing has changed since it was prepared.
func (a *App) ReleasePayments(ctx context.Context, req *settlementv1.ReleasePaymentsRequest) (*settlementv1.PaymentBatch, error) {
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.PaymentBatch, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		b, err := a.batch(ctx, tx, req.GetName())
		if err != nil {
			return nil, nil, err
		}
		login, now := access.From(ctx).Login, a.Clock.Now().Truncate(time.Microsecond) // as it is kept
		if err := b.MayRelease(login, req.GetFingerprint()); err != nil {
			return nil, nil, err
		}
		b.Releaser, b.ReleaseTime = login, &now
		if err := a.pay(ctx, tx, b); err != nil {
			return nil, nil, err
		}
		made, err := a.batchToProto(b)
		return made, []feed.Fact{{Aggregate: b.Name(), Payload: &settlementv1.PaymentsReleased{Batch: made}}}, err
	})
}

func (a *App) pay(ctx context.Context, tx pgx.Tx, b *payment.Batch) error {
	prepared, err := payment.ReadList(b.Prepared)
	if err != nil {
		return err
	}
	today, err := a.propose(ctx, tx, b.Minimum, b.PayDate)
	if err != nil {
		return err
	}
	list := payment.Confirm(prepared, today, access.From(ctx).Member)
	entries := make([]*ledger.Entry, len(list.Items))
	for n := range list.Items {
		i := &list.Items[n]
		i.Batch, i.Trace, i.Time, i.Date = b.ID, n+1, *b.ReleaseTime, b.PayDate
		if i.ID, err = uuid.NewRandom(); err != nil {
			return fmt.Errorf("name a payment: %w", err)
		}
		entries[n] = ledger.ForPayment(i, b.Number)
	}
	if b.Outcome, err = list.Bytes(); err != nil {
		return err
	}
	if err := a.Store.InsertPaymentRelease(ctx, tx, b); err != nil {
		return err
	}
	if err := a.Store.InsertPayments(ctx, tx, list.Items); err != nil {
		return err
	}
	if err := a.deduct(ctx, tx, b, list.Deductions); err != nil {
		return err
	}
	// After all that changes a balance: what stands of each crop year now is what this batch has paid.
	if err := a.Store.InsertYearsPaid(ctx, tx, b.ID, list.Members()); err != nil {
		return err
	}
	return a.book(ctx, tx, entries...)
}

// ReturnPayment records that the bank sent a payment back: a payment of the opposite sign.
func (a *App) ReturnPayment(ctx context.Context, req *settlementv1.ReturnPaymentRequest) (*settlementv1.Payment, error) {
	id, err := identity(req.GetName(), "payments")
	if err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.Payment, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		found, err := a.Store.Payment(ctx, tx, id)
		if err != nil {
			return nil, nil, err
		}
		if len(found) == 0 {
			return nil, nil, apierr.NotFound(req.GetName())
		}
		back, err := found[0].Return(req.GetReason(), a.Clock.Now(), a.date(a.Clock.Now()))
		if err != nil {
			return nil, nil, err
		}
		if err := a.Store.InsertPayments(ctx, tx, []payment.Item{back}); err != nil {
			return nil, nil, err
		}
		if err := a.bringBack(ctx, tx, back); err != nil {
			return nil, nil, err
		}
		made := a.paymentToProto(back)
		fact := feed.Fact{Aggregate: back.Name(), Payload: &settlementv1.PaymentReturned{Payment: made}}
		return made, []feed.Fact{fact}, a.book(ctx, tx, ledger.ForPayment(&back, "returned"))
	})
}

// GetPaymentBatch reads one batch.
func (a *App) GetPaymentBatch(ctx context.Context, req *settlementv1.GetPaymentBatchRequest) (*settlementv1.PaymentBatch, error) {
	b, err := a.batch(ctx, a.DB.Pool(), req.GetName())
	if err != nil {
		return nil, err
	}
	return a.batchToProto(b)
}

// ListPaymentBatches pages through batches.
func (a *App) ListPaymentBatches(ctx context.Context, req *settlementv1.ListPaymentBatchesRequest) (*settlementv1.ListPaymentBatchesResponse, error) {
	var before int64
	size, err := begin(req, &before)
	if err != nil {
		return nil, err
	}
	found, err := a.Store.ListBatches(ctx, a.DB.Pool(), before, size+1)
	if err != nil {
		return nil, err
	}
	out := &settlementv1.ListPaymentBatchesResponse{}
	found, out.NextPageToken = page.Cut(found, size, req, func(b *payment.Batch) any { return b.Place })
	for _, b := range found {
		row, err := a.batchToProto(b)
		if err != nil {
			return nil, err
		}
		out.PaymentBatches = append(out.PaymentBatches, row)
	}
	return out, nil
}

func (a *App) batchToProto(b *payment.Batch) (*settlementv1.PaymentBatch, error) {
	list, err := b.List()
	if err != nil {
		return nil, err
	}
	out := &settlementv1.PaymentBatch{
		Name: b.Name(), Number: b.Number, State: settlementv1.PaymentState_PAYMENT_STATE_PREPARED, PayDate: string(b.PayDate),
		Total: wire.MoneyToProto(list.Total(), a.Terms.Currency), Fingerprint: b.Fingerprint, Preparer: b.Preparer, PrepareTime: stamp(b.PrepareTime), Releaser: b.Releaser,
	}
	if b.ReleaseTime != nil {
		out.State, out.ReleaseTime = settlementv1.PaymentState_PAYMENT_STATE_RELEASED, stamp(*b.ReleaseTime)
	}
	if b.Exported {
		out.State = settlementv1.PaymentState_PAYMENT_STATE_EXPORTED
	}
	for _, i := range list.Items {
		out.Payments = append(out.Payments, a.paymentToProto(i))
	}
	for _, d := range list.Deductions {
		out.LoanDeductions = append(out.LoanDeductions, &settlementv1.LoanDeduction{
			Member: d.Member, Loan: d.Loan, Interest: wire.MoneyToProto(d.Interest, a.Terms.Currency), Principal: wire.MoneyToProto(d.Principal, a.Terms.Currency),
			Explanation: d.Explanation,
		})
	}
	for _, k := range list.Blocked {
		out.Blocked = append(out.Blocked, &settlementv1.BlockedPayment{Member: k.Member, Amount: wire.MoneyToProto(k.Amount, a.Terms.Currency), Reason: k.Reason})
	}
	return out, nil
}

func (a *App) paymentToProto(i payment.Item) *settlementv1.Payment {
	out := &settlementv1.Payment{
		Name: i.Name(), Member: i.Member, Payee: i.To, PayeeAccount: "payeeAccounts/" + i.Account.String(), AccountEnding: i.Ending,
		Amount: wire.MoneyToProto(i.Amount, a.Terms.Currency), Explanation: i.Explanation,
	}
	if i.Payee != i.Member {
		out.Encumbrance = i.Payee
	}
	if i.Returns != (uuid.UUID{}) {
		out.Returns = "payments/" + i.Returns.String()
	}
	return out
}
