package store

import (
	"context"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
)

// LockContainers keeps two moves of one member's containers apart until the transaction ends.
func (Store) LockContainers(ctx context.Context, q pg.Querier, member string) error {
	_, err := q.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtextextended('intake containers ' || $1, 0))`, member)
	return wrap(err, "lock containers")
}

// InsertContainerMove stores a move and numbers it.
func (Store) InsertContainerMove(ctx context.Context, q pg.Querier, m *domain.ContainerMove) error {
	err := q.QueryRow(ctx, `INSERT INTO container_move (member, container, kind, count, note, recorder, move_time, rate, deposit)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9) RETURNING id`, m.Member, m.Container, m.Kind, m.Count, m.Note, m.Recorder, m.Time, m.Rate,
		m.Deposit).Scan(&m.ID)
	return wrap(err, "insert container move")
}

const newestMoves = 100

// Containers adds a member's account up and reads its newest moves.
func (Store) Containers(ctx context.Context, q pg.Querier, member string) (domain.ContainerAccount, error) {
	a := domain.ContainerAccount{Member: member}
	b := &pgx.Batch{}
	b.Queue(`SELECT container, kind, sum(count), sum(deposit)::bigint FROM container_move WHERE member = $1 GROUP BY container, kind ORDER BY container`, member).
		Query(func(rows pgx.Rows) error {
			var c domain.Container
			var kind domain.MoveKind
			var count int64
			var deposit quantity.Money
			_, err := pgx.ForEachRow(rows, []any{&c, &kind, &count, &deposit}, func() error {
				if n := len(a.Balances); n == 0 || a.Balances[n-1].Container != c {
					a.Balances = append(a.Balances, domain.ContainerBalance{Container: c, Moved: map[domain.MoveKind]int64{}})
				}
				last := &a.Balances[len(a.Balances)-1]
				last.Moved[kind], last.Deposit = count, last.Deposit+deposit
				return nil
			})
			return err
		})
	b.Queue(`SELECT id, member, container, kind, count, note, recorder, move_time, rate, deposit FROM container_move WHERE member = $1
		ORDER BY id DESC LIMIT $2`, member, newestMoves).Query(func(rows pgx.Rows) (err error) {
		a.Moves, err = pgx.CollectRows(rows, func(row pgx.CollectableRow) (domain.ContainerMove, error) {
			var m domain.ContainerMove
			err := row.Scan(&m.ID, &m.Member, &m.Container, &m.Kind, &m.Count, &m.Note, &m.Recorder, &m.Time, &m.Rate, &m.Deposit)
			return m, err
		})
		return err
	})
	return a, wrap(q.SendBatch(ctx, b).Close(), "read containers")
}
