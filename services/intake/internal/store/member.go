package store

import (
	"context"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/pg"
)

// InsertMember fails with ALREADY_EXISTS for a number that was ever used.
func (Store) InsertMember(ctx context.Context, q pg.Querier, m domain.Member) error {
	_, err := q.Exec(ctx, `INSERT INTO member (number, display_name, agreement_version, join_date, creator, create_time)
		VALUES ($1, $2, $3, $4, $5, $6)`,
		m.Number, m.DisplayName, m.AgreementVersion, m.JoinDate, m.Creator, m.CreateTime)
	return wrap(pg.Named(err, map[string]error{
		"member_pk": domain.AlreadyExists(m.Name(), "member number %s was used before and is never given again: choose another", m.Number),
	}), "insert member")
}

const memberColumns = `number, display_name, agreement_version, join_date::text, creator, create_time`

// Member fails with NOT_FOUND.
func (Store) Member(ctx context.Context, q pg.Querier, number string) (domain.Member, error) {
	m, err := scanMember(q.QueryRow(ctx, `SELECT `+memberColumns+` FROM member WHERE number = $1`, number))
	return m, orNotFound(err, "read member", domain.Member{Number: number}.Name())
}

// Members lists by number, shorter numbers first, after the one named.
func (Store) Members(ctx context.Context, q pg.Querier, after string, limit int) ([]domain.Member, error) {
	rows, err := q.Query(ctx, `SELECT `+memberColumns+` FROM member
		WHERE (length(number), number) > (length($1::text), $1::text) ORDER BY length(number), number LIMIT $2`, after, limit)
	if err != nil {
		return nil, wrap(err, "list members")
	}
	members, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (domain.Member, error) { return scanMember(row) })
	return members, wrap(err, "list members")
}

func scanMember(row pgx.Row) (domain.Member, error) {
	var m domain.Member
	err := row.Scan(&m.Number, &m.DisplayName, &m.AgreementVersion, &m.JoinDate, &m.Creator, &m.CreateTime)
	return m, err
}
