package store

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

const progressColumns = `g.progress, g.pool, p.title, g.rate, g.proposer, g.propose_time, coalesce(a.resolution, ''), coalesce(a.adopter, ''), a.adopt_time,
	coalesce(a.barrels, 0), coalesce(a.payable, 0), coalesce(a.amount, 0), coalesce(a.credited, 0)
	FROM progress_payment g JOIN pool p USING (pool) LEFT JOIN progress_adoption a USING (progress)`

func scanProgress(row pgx.CollectableRow) (*domain.ProgressPayment, error) {
	var g domain.ProgressPayment
	var at *time.Time
	err := row.Scan(&g.ID, &g.Pool, &g.Title, &g.Rate, &g.Proposer, &g.ProposeTime, &g.Resolution, &g.Adopter, &at,
		&g.Sums.Barrels, &g.Sums.Payable, &g.Sums.Amount, &g.Sums.Credited)
	g.AdoptTime = at
	return &g, err
}

// InsertProgress saves a proposal.
func (Store) InsertProgress(ctx context.Context, tx pgx.Tx, g *domain.ProgressPayment) error {
	return exec(ctx, tx, "save the progress payment", `INSERT INTO progress_payment (progress, pool, rate, proposer, propose_time) VALUES ($1, $2, $3, $4, $5)`,
		g.ID, g.Pool, g.Rate, g.Proposer, g.ProposeTime)
}

// InsertProgressAdoption saves the board's word.
func (Store) InsertProgressAdoption(ctx context.Context, tx pgx.Tx, g *domain.ProgressPayment) error {
	return exec(ctx, tx, "save the adoption", `INSERT INTO progress_adoption (progress, resolution, adopter, adopt_time, barrels, payable, amount, credited)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`,
		g.ID, g.Resolution, g.Adopter, g.AdoptTime, g.Sums.Barrels, g.Sums.Payable, g.Sums.Amount, g.Sums.Credited)
}

// Progress is one progress payment, or nil.
func (Store) Progress(ctx context.Context, q pg.Querier, id uuid.UUID) (*domain.ProgressPayment, error) {
	return one(ctx, q, "read the progress payment", `SELECT `+progressColumns+` WHERE g.progress = $1`, scanProgress, id)
}

// PoolProgress are a pool's progress payments, in order.
func (Store) PoolProgress(ctx context.Context, q pg.Querier, pool uuid.UUID) ([]*domain.ProgressPayment, error) {
	return collect(ctx, q, "list the progress payments", `SELECT `+progressColumns+` WHERE g.pool = $1 ORDER BY g.place`, scanProgress, pool)
}

// PaidProgress are the progress payments that were paid, in order.
func (Store) PaidProgress(ctx context.Context, q pg.Querier) ([]*domain.ProgressPayment, error) {
	return collect(ctx, q, "read the progress payments", `SELECT `+progressColumns+` WHERE a.progress IS NOT NULL ORDER BY g.place`, scanProgress)
}

// ProgressSums are what a rate comes to on a pool now, barrel by barrel, each rounded once, half up.
func (Store) ProgressSums(ctx context.Context, q pg.Querier, scope domain.Scope, rate quantity.Price) (s domain.ProgressSums, err error) {
	err = q.QueryRow(ctx, `SELECT count(*), coalesce(sum(payable), 0)::bigint, coalesce(sum(div($4::numeric * payable + 5000000, 10000000)), 0)::bigint,
			coalesce(sum(credited), 0)::bigint
		FROM (SELECT sum(payable) AS payable, sum(gross_amount) AS credited`+harvested+` GROUP BY barrel) b`,
		append(scopeArgs(scope), int64(rate))...).Scan(&s.Barrels, &s.Payable, &s.Amount, &s.Credited)
	if err != nil {
		return s, fmt.Errorf("weigh the progress payment: %w", err)
	}
	return s, nil
}

// HasHoney reports whether a member has honey in a pool that is not closed.
func (Store) HasHoney(ctx context.Context, q pg.Querier, scope domain.Scope, member string) (bool, error) {
	var has bool
	err := q.QueryRow(ctx, `SELECT EXISTS (SELECT 1`+harvested+` AND member = $4)`, append(scopeArgs(scope), member)...).Scan(&has)
	return has, wrap("look for own honey", err)
}

// Progressed is what progress payments have credited beside these advances; those without any are left out.
func (Store) Progressed(ctx context.Context, q pg.Querier, advances []uuid.UUID) (map[uuid.UUID]quantity.Money, error) {
	rows, err := q.Query(ctx, `SELECT a.payout, sum(s.amount)::bigint FROM standing_advance a JOIN standing_progress s USING (barrel, member)
		WHERE a.payout = ANY($1) GROUP BY a.payout`, advances)
	if err != nil {
		return nil, fmt.Errorf("read the progress payments: %w", err)
	}
	out := map[uuid.UUID]quantity.Money{}
	var id uuid.UUID
	var amount quantity.Money
	_, err = pgx.ForEachRow(rows, []any{&id, &amount}, func() error {
		out[id] = amount
		return nil
	})
	return out, wrap("read the progress payments", err)
}
