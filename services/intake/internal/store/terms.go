package store

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
)

// InsertClassTare stores a class tare and numbers it.
func (Store) InsertClassTare(ctx context.Context, q pg.Querier, t *domain.ClassTare) error {
	err := q.QueryRow(ctx, `INSERT INTO class_tare (container, tare, sample_size, sample_date, review_date, note, setter, set_time)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8) RETURNING id`,
		t.Container, t.Tare, t.SampleSize, t.SampleDate, t.ReviewDate, t.Note, t.Setter, t.SetTime).Scan(&t.ID)
	return wrap(err, "insert class tare")
}

// ClassTares are the newest of each type of container.
func (Store) ClassTares(ctx context.Context, q pg.Querier) (domain.ClassTares, error) {
	rows, err := q.Query(ctx, `SELECT DISTINCT ON (container) id, container, tare, sample_size, sample_date::text, review_date::text, note, setter,
		set_time FROM class_tare ORDER BY container, id DESC`)
	if err != nil {
		return nil, wrap(err, "list class tares")
	}
	all := domain.ClassTares{}
	var t domain.ClassTare
	_, err = pgx.ForEachRow(rows, []any{
		&t.ID, &t.Container, &t.Tare, &t.SampleSize, &t.SampleDate, &t.ReviewDate, &t.Note, &t.Setter, &t.SetTime,
	}, func() error {
		all[t.Container] = t
		return nil
	})
	return all, wrap(err, "list class tares")
}

// InsertDeposit stores a deposit and numbers it.
func (Store) InsertDeposit(ctx context.Context, q pg.Querier, d *domain.Deposit) error {
	err := q.QueryRow(ctx, `INSERT INTO container_deposit (container, amount, effective_date, note, setter, set_time)
		VALUES ($1, $2, $3, $4, $5, $6) RETURNING id`, d.Container, d.Amount, d.From, d.Note, d.Setter, d.SetTime).Scan(&d.ID)
	return wrap(err, "insert container deposit")
}

// Deposits lists all, by type and newest date first.
func (Store) Deposits(ctx context.Context, q pg.Querier) ([]domain.Deposit, error) {
	rows, err := q.Query(ctx, `SELECT id, container, amount, effective_date::text, note, setter, set_time FROM container_deposit
		ORDER BY container, effective_date DESC, id DESC`)
	if err != nil {
		return nil, wrap(err, "list container deposits")
	}
	found, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (domain.Deposit, error) {
		var d domain.Deposit
		err := row.Scan(&d.ID, &d.Container, &d.Amount, &d.From, &d.Note, &d.Setter, &d.SetTime)
		return d, err
	})
	return found, wrap(err, "list container deposits")
}

// DepositOn is the deposit in force for a type on a date; zero when there is none.
func (Store) DepositOn(ctx context.Context, q pg.Querier, c domain.Container, date string) (quantity.Money, error) {
	var amount int64
	err := q.QueryRow(ctx, `SELECT amount FROM container_deposit WHERE container = $1 AND effective_date <= $2
		ORDER BY effective_date DESC, id DESC LIMIT 1`, c, date).Scan(&amount)
	if errors.Is(err, pgx.ErrNoRows) {
		return 0, nil
	}
	return quantity.Money(amount), wrap(err, "read the deposit of a container")
}

// Lots are the hand-outs of one type to one member, oldest first.
func (Store) Lots(ctx context.Context, q pg.Querier, member string, c domain.Container) (domain.Lots, error) {
	rows, err := q.Query(ctx, `SELECT count, rate FROM container_move WHERE member = $1 AND container = $2 AND kind = 'GIVEN_OUT' ORDER BY id`,
		member, c)
	if err != nil {
		return nil, wrap(err, "list hand-outs")
	}
	lots, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (domain.Lot, error) {
		var l domain.Lot
		err := row.Scan(&l.Count, &l.Rate)
		return l, err
	})
	return lots, wrap(err, "list hand-outs")
}
