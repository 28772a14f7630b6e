package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/pg"
)

// AddTank enters a tank that was never filled. Tanks are entered one at a time: two that are alike in their codes are in two rows.
func (Store) AddTank(ctx context.Context, q pg.Querier, t app.Tank, now time.Time) error {
	if _, err := q.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtextextended('tanks', 0))`); err != nil {
		return fmt.Errorf("lock tanks: %w", err)
	}
	tanks, err := q.Query(ctx, `SELECT tank FROM tank WHERE replace(tank, '-', '') = $1 AND tank <> $2 ORDER BY tank`, lots.TankInCode(t.ID), t.ID)
	if err != nil {
		return fmt.Errorf("look for a tank of that code: %w", err)
	}
	alike, err := pgx.CollectRows(tanks, pgx.RowTo[string])
	if err != nil {
		return fmt.Errorf("look for a tank of that code: %w", err)
	}
	if len(alike) > 0 {
		return &lots.SameTankError{Tank: t.ID, Other: alike[0]}
	}
	tag, err := q.Exec(ctx, `INSERT INTO tank (tank, capacity, create_time) VALUES ($1, $2, $3) ON CONFLICT (tank) DO NOTHING`,
		t.ID, t.Capacity, now)
	if err != nil {
		return fmt.Errorf("enter tank: %w", err)
	}
	if tag.RowsAffected() == 0 {
		return &app.ExistsError{Resource: "tanks/" + t.ID, Called: "tank " + t.ID}
	}
	_, err = q.Exec(ctx, `INSERT INTO tank_state (tank) VALUES ($1)`, t.ID)
	return wrap("enter tank", err)
}

// What a tank holds is what its newest charge holds and what is unexplained of earlier ones.
const tankColumns = `
SELECT t.tank, t.capacity, coalesce(s.charge, '00000000-0000-0000-0000-000000000000'),
       coalesce((SELECT sum(v.content) FROM charge c JOIN vessel v ON v.place = 'charges/' || c.charge WHERE c.tank = t.tank), 0)::bigint,
       coalesce((SELECT c.code FROM charge c WHERE c.charge = s.charge), '')
FROM tank t JOIN tank_state s USING (tank)`

func scanTank(row pgx.CollectableRow) (app.Tank, error) {
	var t app.Tank
	err := row.Scan(&t.ID, &t.Capacity, &t.Charge, &t.Content, &t.Code)
	return t, err
}

// Tanks lists all tanks.
func (Store) Tanks(ctx context.Context, q pg.Querier) ([]app.Tank, error) {
	rows, err := q.Query(ctx, tankColumns+` ORDER BY t.tank`)
	if err != nil {
		return nil, fmt.Errorf("list tanks: %w", err)
	}
	tanks, err := pgx.CollectRows(rows, scanTank)
	return tanks, wrap("list tanks", err)
}

// Tank reads one.
func (Store) Tank(ctx context.Context, q pg.Querier, tank string) (app.Tank, error) {
	rows, err := q.Query(ctx, tankColumns+` WHERE t.tank = $1`, tank)
	if err != nil {
		return app.Tank{}, fmt.Errorf("read tank: %w", err)
	}
	t, err := pgx.CollectExactlyOneRow(rows, scanTank)
	return t, found(err, "tanks/"+tank, "read tank")
}

// LockTank waits for its lock before it reads.
func (s Store) LockTank(ctx context.Context, q pg.Querier, tank string) (app.Tank, error) {
	if err := shareFlow(ctx, q); err != nil {
		return app.Tank{}, err
	}
	if _, err := q.Exec(ctx, `SELECT 1 FROM tank_state WHERE tank = $1 FOR UPDATE`, tank); err != nil {
		return app.Tank{}, fmt.Errorf("lock tank: %w", err)
	}
	return s.Tank(ctx, q, tank)
}

// found makes a missing row a *stock.NotFoundError.
func found(err error, resource, operation string) error {
	if errors.Is(err, pgx.ErrNoRows) {
		return &stock.NotFoundError{Resource: resource}
	}
	return wrap(operation, err)
}

// number is what the database keeps of an optional exact number.
func number[T ~int64](v *T) *int64 {
	if v == nil {
		return nil
	}
	n := int64(*v)
	return &n
}

// AddCharge enters a charge, empty, as the one its tank was filled with last. The tank must be locked.
func (Store) AddCharge(ctx context.Context, q pg.Querier, f lots.Filling) error {
	b := &pgx.Batch{}
	var previous *uuid.UUID
	if f.Previous != uuid.Nil {
		previous = &f.Previous
	}
	picks := f.Picks
	if picks == nil {
		picks = []uuid.UUID{}
	}
	b.Queue(`
		INSERT INTO charge (charge, tank, previous, variety, min_share, max_moisture, min_pfund, max_pfund, picks, opener, open_time, code)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)`,
		f.ID, f.Tank, previous, f.Rules.Variety, f.Rules.MinShare, number(f.Rules.MaxMoisture), number(f.Rules.MinPfund), number(f.Rules.MaxPfund),
		picks, f.Opener, f.Time, f.Code)
	b.Queue(`INSERT INTO vessel (place, content) VALUES ($1, 0)`, f.Place())
	b.Queue(`UPDATE tank_state SET charge = $2 WHERE tank = $1`, f.Tank, f.ID)
	return wrap("open charge", q.SendBatch(ctx, b).Close())
}

// CountCharges counts the charges of a tank by the start of their code.
func (Store) CountCharges(ctx context.Context, q pg.Querier, tank, prefix string) (n int, err error) {
	err = q.QueryRow(ctx, `SELECT count(*) FROM charge WHERE tank = $1 AND starts_with(code, $2)`, tank, prefix).Scan(&n)
	return n, wrap("count charges", err)
}

// ChargeByCode finds the charge people call so.
func (Store) ChargeByCode(ctx context.Context, q pg.Querier, code string) (id uuid.UUID, err error) {
	err = q.QueryRow(ctx, `SELECT charge FROM charge WHERE code = $1`, code).Scan(&id)
	return id, found(err, "charges/"+code, "find charge")
}

var chargeColumns = `
SELECT c.charge, c.number, c.code, c.tank, coalesce(c.previous, '00000000-0000-0000-0000-000000000000'), c.variety, c.min_share, c.max_moisture,
       c.min_pfund, c.max_pfund, c.picks, c.opener, c.open_time, v.content,
       coalesce((SELECT content FROM vessel WHERE place = 'charges/' || c.previous), 0),
       EXISTS (SELECT FROM charge_close e WHERE e.charge = c.charge), s.charge = c.charge,
       ` + askedAt("v.place") + `, ` + askedAt("'charges/' || c.previous") + `
FROM charge c JOIN vessel v ON v.place = 'charges/' || c.charge JOIN tank_state s USING (tank)`

func scanCharge(row pgx.CollectableRow) (lots.Filling, error) {
	var f lots.Filling
	err := row.Scan(&f.ID, &f.Number, &f.Code, &f.Tank, &f.Previous, &f.Rules.Variety, &f.Rules.MinShare, &f.Rules.MaxMoisture, &f.Rules.MinPfund,
		&f.Rules.MaxPfund, &f.Picks, &f.Opener, &f.Time, &f.Content, &f.Left, &f.Closed, &f.Current,
		&f.Asked, &f.LeftAsked)
	f.Time = utc(f.Time)
	return f, err
}

// Charge reads one charge with its substitutions and the barrels that went in.
func (s Store) Charge(ctx context.Context, q pg.Querier, id uuid.UUID) (lots.Filling, error) {
	rows, err := q.Query(ctx, chargeColumns+` WHERE c.charge = $1`, id)
	if err != nil {
		return lots.Filling{}, fmt.Errorf("read charge: %w", err)
	}
	f, err := pgx.CollectExactlyOneRow(rows, scanCharge)
	if err != nil {
		return f, found(err, string(lots.Of(lots.Charge, id)), "read charge")
	}
	if f.Substitutions, err = substitutions(ctx, q, id); err != nil {
		return f, err
	}
	rows, err = q.Query(ctx, `
		SELECT DISTINCT substr(from_place, length('stock/') + 1)::uuid FROM transfer WHERE to_place = $1 AND from_place LIKE 'stock/%'`, f.Place())
	if err != nil {
		return f, fmt.Errorf("read what went into charge: %w", err)
	}
	if f.Used, err = pgx.CollectRows(rows, pgx.RowTo[uuid.UUID]); err != nil {
		return f, fmt.Errorf("read what went into charge: %w", err)
	}
	f.Holds, err = s.OpenHolds(ctx, q, id)
	return f, err
}

func substitutions(ctx context.Context, q pg.Querier, charge uuid.UUID) ([]lots.Substitution, error) {
	rows, err := q.Query(ctx, `SELECT planned, used, reason, actor, time FROM substitution WHERE charge = $1 ORDER BY time, planned`, charge)
	if err != nil {
		return nil, fmt.Errorf("read substitutions: %w", err)
	}
	out, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (lots.Substitution, error) {
		var s lots.Substitution
		err := row.Scan(&s.Planned, &s.Used, &s.Reason, &s.Actor, &s.Time)
		s.Time = utc(s.Time)
		return s, err
	})
	return out, wrap("read substitutions", err)
}

// Charges lists charges, newest first.
func (Store) Charges(ctx context.Context, q pg.Querier, tank string, before int64, limit int) ([]lots.Filling, error) {
	var w where
	w.add("c.number < %s", before)
	w.equal("c.tank", tank, tank != "")
	rows, err := q.Query(ctx, chargeColumns+w.sql()+" ORDER BY c.number DESC LIMIT "+w.arg(limit), w.args...)
	if err != nil {
		return nil, fmt.Errorf("list charges: %w", err)
	}
	charges, err := pgx.CollectRows(rows, scanCharge)
	return charges, wrap("list charges", err)
}

// AddSubstitution records one.
func (Store) AddSubstitution(ctx context.Context, q pg.Querier, charge uuid.UUID, s lots.Substitution) error {
	_, err := q.Exec(ctx, `INSERT INTO substitution (charge, planned, used, reason, actor, time) VALUES ($1, $2, $3, $4, $5, $6)`,
		charge, s.Planned, s.Used, s.Reason, s.Actor, s.Time)
	return wrap("record substitution", err)
}

// CloseCharge records that a charge is used up.
func (Store) CloseCharge(ctx context.Context, q pg.Querier, charge uuid.UUID, closer string, now time.Time) error {
	_, err := q.Exec(ctx, `INSERT INTO charge_close (charge, closer, close_time) VALUES ($1, $2, $3)`, charge, closer, now)
	return wrap("close charge", err)
}
