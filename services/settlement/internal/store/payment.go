package store

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/payment"
)

func scanOwed(row pgx.CollectableRow) (payment.Owed, error) {
	var o payment.Owed
	err := row.Scan(&o.Member, &o.Holder, &o.Balance)
	return o, err
}

// OwedNow is every member whose payouts and payments do not come to nothing, by number.
func (Store) OwedNow(ctx context.Context, q pg.Querier) ([]payment.Owed, error) {
	return collect(ctx, q, "sum what members are owed", `SELECT member, coalesce(max(m.display_name), member), sum(amount)::bigint
		FROM member_movement LEFT JOIN intake_member m USING (member) GROUP BY member HAVING sum(amount) <> 0 ORDER BY member`, scanOwed)
}

var batchColumns = `b.batch, b.place, b.number, ` + date("b.pay_date") + `, b.minimum, b.fingerprint, b.prepared, b.preparer, b.prepare_time,
	r.outcome, coalesce(r.releaser, ''), r.release_time, x.batch IS NOT NULL
	FROM payment_batch b LEFT JOIN payment_release r USING (batch) LEFT JOIN payment_export x USING (batch)`

func scanBatch(row pgx.CollectableRow) (*payment.Batch, error) {
	var b payment.Batch
	err := row.Scan(&b.ID, &b.Place, &b.Number, &b.PayDate, &b.Minimum, &b.Fingerprint, &b.Prepared, &b.Preparer, &b.PrepareTime,
		&b.Outcome, &b.Releaser, &b.ReleaseTime, &b.Exported)
	return &b, err
}

// CountBatches is how many batches a year has had. The gate must be held.
func (Store) CountBatches(ctx context.Context, tx pgx.Tx, year string) (int, error) {
	var n int
	err := tx.QueryRow(ctx, `SELECT count(*) FROM payment_batch WHERE to_char(pay_date, 'YYYY') = $1`, year).Scan(&n)
	return n, wrap("count the batches", err)
}

// InsertBatch saves a prepared batch.
func (Store) InsertBatch(ctx context.Context, tx pgx.Tx, b *payment.Batch) error {
	return exec(ctx, tx, "save the batch", `INSERT INTO payment_batch
		(batch, number, pay_date, minimum, fingerprint, prepared, preparer, prepare_time) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`,
		b.ID, b.Number, day(b.PayDate), b.Minimum, b.Fingerprint, b.Prepared, b.Preparer, b.PrepareTime)
}

// Batch is one batch, or nil.
func (Store) Batch(ctx context.Context, q pg.Querier, id uuid.UUID) (*payment.Batch, error) {
	return one(ctx, q, "read the batch", `SELECT `+batchColumns+` WHERE b.batch = $1`, scanBatch, id)
}

// ListBatches gives batches, newest first, beginning before place; 0 begins at the newest.
func (Store) ListBatches(ctx context.Context, q pg.Querier, before int64, limit int) ([]*payment.Batch, error) {
	return collect(ctx, q, "list the batches", `SELECT `+batchColumns+` WHERE $1 = 0 OR b.place < $1 ORDER BY b.place DESC LIMIT $2`, scanBatch, before, limit)
}

// InsertPaymentRelease saves the release of a batch.
func (Store) InsertPaymentRelease(ctx context.Context, tx pgx.Tx, b *payment.Batch) error {
	return exec(ctx, tx, "save the release", `INSERT INTO payment_release (batch, outcome, releaser, release_time) VALUES ($1, $2, $3, $4)`,
		b.ID, b.Outcome, b.Releaser, b.ReleaseTime)
}

var paymentFields = []string{"payment", "batch", "trace", "member", "payee", "paid_to", "account", "ending", "amount", "explanation", "returns", "pay_date", "payment_time"}

// InsertPayments saves payments in order. A second return of one is a *domain.StateError.
func (Store) InsertPayments(ctx context.Context, tx pgx.Tx, items []payment.Item) error {
	rows := make([][]any, 0, len(items))
	for _, i := range items {
		rows = append(rows, []any{
			i.ID, i.Batch, int32(i.Trace), i.Member, i.Payee, i.To, i.Account, i.Ending, int64(i.Amount), i.Explanation, some(i.Returns), day(i.Date), i.Time, //nolint:gosec // places in a batch
		})
	}
	_, err := tx.CopyFrom(ctx, pgx.Identifier{"payment"}, paymentFields, pgx.CopyFromRows(rows))
	if err != nil {
		err = fmt.Errorf("save %d payments: %w", len(items), err)
	}
	// A return has its identity from what it returns, so either key may be the first to refuse a second one.
	returned := &domain.StateError{State: "RETURNED", Message: "the bank has returned this payment already"}
	return pg.Named(err, map[string]error{"payment_pk": returned, "payment_returned_once": returned})
}

var paymentColumns = `payment, batch, trace, member, payee, paid_to, account, ending, amount, explanation, returns, ` + date("pay_date") + `, payment_time FROM payment`

func scanPayment(row pgx.CollectableRow) (payment.Item, error) {
	var i payment.Item
	var returns *uuid.UUID
	err := row.Scan(&i.ID, &i.Batch, &i.Trace, &i.Member, &i.Payee, &i.To, &i.Account, &i.Ending, &i.Amount, &i.Explanation, &returns, &i.Date, &i.Time)
	i.Returns = orZero(returns)
	return i, err
}

// Payment is one payment, or none.
func (Store) Payment(ctx context.Context, q pg.Querier, id uuid.UUID) ([]payment.Item, error) {
	return collect(ctx, q, "read the payment", `SELECT `+paymentColumns+` WHERE payment = $1`, scanPayment, id)
}

// BatchPayments are what a batch paid, in order, without what the bank returned later.
func (Store) BatchPayments(ctx context.Context, q pg.Querier, batch uuid.UUID) ([]payment.Item, error) {
	return collect(ctx, q, "read the payments", `SELECT `+paymentColumns+` WHERE batch = $1 AND returns IS NULL ORDER BY trace`, scanPayment, batch)
}

// MemberPayments are what was paid from a member's balance, in order.
func (Store) MemberPayments(ctx context.Context, q pg.Querier, member string) ([]payment.Item, error) {
	return collect(ctx, q, "read the payments", `SELECT `+paymentColumns+` WHERE member = $1 ORDER BY place`, scanPayment, member)
}

// InsertExport saves that a batch's file was handed out.
func (Store) InsertExport(ctx context.Context, tx pgx.Tx, batch uuid.UUID, format int, sum, exporter string, at time.Time) error {
	err := exec(ctx, tx, "save the export", `INSERT INTO payment_export (batch, format, sha256, exporter, export_time) VALUES ($1, $2, $3, $4, $5)`,
		batch, int16(format), sum, exporter, at) //nolint:gosec // one of two
	return pg.Named(err, map[string]error{"payment_export_once": &domain.StateError{
		Resource: "paymentBatches/" + batch.String(), State: "EXPORTED", Message: "the file of this batch was handed out already; a second one could pay twice",
	}})
}

// YearPayouts are a member's payouts of a crop year with their lines, oldest first.
func (s Store) YearPayouts(ctx context.Context, q pg.Querier, member string, cropYear int) ([]*domain.Payout, error) {
	found, err := collect(ctx, q, "read a year's payouts", `SELECT `+payoutColumns+` WHERE member = $1 AND crop_year = $2 ORDER BY number`, scanPayout, member, cropYear)
	if err != nil {
		return nil, err
	}
	return found, s.fillLines(ctx, q, found)
}

// YearUnpriced are a member's barrels of a crop year that count and have earned nothing yet.
func (Store) YearUnpriced(ctx context.Context, q pg.Querier, member string, cropYear int) ([]domain.Situation, error) {
	return collect(ctx, q, "read the barrels that wait", `SELECT `+situationColumns+`
		WHERE b.counts AND `+unearned+` AND `+ownedBy("$1")+` AND b.crop_year = $2 ORDER BY b.delivery_date, b.barrel`, scanSituation, member, cropYear)
}
