package store

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/pg"
)

// AddMovement records a move and where the barrel stands by it. The barrel must be locked.
func (Store) AddMovement(ctx context.Context, q pg.Querier, m stock.Movement) error {
	_, err := q.Exec(ctx, `
		INSERT INTO movement (movement, barrel, number, from_location, to_location, mover, move_time)
		VALUES ($1, $2, $3, $4, $5, $6, $7)`, m.ID, m.Barrel, m.Number, m.From, m.To, m.Mover, m.Time)
	if err != nil {
		return fmt.Errorf("record move: %w", err)
	}
	_, err = q.Exec(ctx, `UPDATE standing SET location = $2, moves = $3 WHERE barrel = $1`, m.Barrel, m.To, m.Number)
	return wrap("record where the barrel stands", err)
}

// Movements lists the moves of one barrel, oldest first.
func (Store) Movements(ctx context.Context, q pg.Querier, barrel uuid.UUID, after int64, limit int) ([]stock.Movement, error) {
	rows, err := q.Query(ctx, `
		SELECT movement, barrel, number, from_location, to_location, mover, move_time
		FROM movement WHERE barrel = $1 AND number > $2 ORDER BY number LIMIT $3`, barrel, after, limit)
	if err != nil {
		return nil, fmt.Errorf("list moves: %w", err)
	}
	moves, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (stock.Movement, error) {
		var m stock.Movement
		err := row.Scan(&m.ID, &m.Barrel, &m.Number, &m.From, &m.To, &m.Mover, &m.Time)
		m.Time = utc(m.Time)
		return m, err
	})
	return moves, wrap("list moves", err)
}
