package store

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain/payment"
)

// MemberYears is what stands of each crop year for these members.
func (Store) MemberYears(ctx context.Context, q pg.Querier, members []string) (map[string]payment.ByYear, error) {
	return byYear(ctx, q, "sum what members are owed by crop year", `SELECT member, crop_year, amount FROM member_year WHERE member = ANY($1)`, members)
}

// InsertYearsPaid keeps what stands of each crop year as paid by a batch: it has paid these members in full.
func (Store) InsertYearsPaid(ctx context.Context, tx pgx.Tx, batch uuid.UUID, members []string) error {
	return exec(ctx, tx, "save what was paid by crop year", `INSERT INTO payment_year (source, member, crop_year, amount)
		SELECT $1, member, crop_year, amount FROM member_year WHERE member = ANY($2)`, batch, members)
}

// YearsPaid is what a batch paid a member by crop year; nothing for batches of an earlier release.
func (Store) YearsPaid(ctx context.Context, q pg.Querier, batch uuid.UUID, member string) (payment.ByYear, error) {
	found, err := byYear(ctx, q, "read what was paid by crop year", `SELECT member, crop_year, amount FROM payment_year WHERE source = $1 AND member = $2`, batch, member)
	return found[member], err
}

func byYear(ctx context.Context, q pg.Querier, what, sql string, args ...any) (map[string]payment.ByYear, error) {
	rows, err := q.Query(ctx, sql, args...)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", what, err)
	}
	out := map[string]payment.ByYear{}
	var member string
	var year int
	var amount quantity.Money
	_, err = pgx.ForEachRow(rows, []any{&member, &year, &amount}, func() error {
		if out[member] == nil {
			out[member] = payment.ByYear{}
		}
		out[member][year] = amount
		return nil
	})
	return out, wrap(what, err)
}

// InsertYearsBack keeps of which crop years a returned payment is. The amounts are as negative as the payment.
func (Store) InsertYearsBack(ctx context.Context, tx pgx.Tx, back payment.Item, years payment.ByYear) error {
	b := &pgx.Batch{}
	for year, amount := range years {
		b.Queue(`INSERT INTO payment_year (source, member, crop_year, amount) VALUES ($1, $2, $3, $4)`, back.ID, back.Member, year, amount)
	}
	return wrap("save of which crop years a payment came back", tx.SendBatch(ctx, b).Close())
}
