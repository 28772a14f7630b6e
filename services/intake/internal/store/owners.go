package store

import (
	"context"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/pg"
)

// ownerRow is owners as one row: three lists of one length, null when there are none.
type ownerRow struct {
	members, names []string
	shares         []int64
}

func (r *ownerRow) targets() []any { return []any{&r.members, &r.names, &r.shares} }

func (r *ownerRow) owners() domain.Owners {
	var owners domain.Owners
	for i := range r.members {
		owners = append(owners, domain.Owner{Member: r.members[i], Name: r.names[i], Share: domain.Share(r.shares[i])})
	}
	return owners
}

func ownerLists(o domain.Owners) (members, names []string, shares []int64) {
	for _, owner := range o {
		members, names, shares = append(members, owner.Member), append(names, owner.Name), append(shares, int64(owner.Share))
	}
	return members, names, shares
}

func insertTicketOwners(ctx context.Context, q pg.Querier, t domain.Ticket) error {
	if len(t.Owners) == 0 {
		return nil
	}
	members, names, shares := ownerLists(t.Owners)
	_, err := q.Exec(ctx, `INSERT INTO ticket_owner (ticket, place, member, display_name, share)
		SELECT $1, o.place, o.member, o.name, o.share
		FROM unnest($2::text[], $3::text[], $4::bigint[]) WITH ORDINALITY AS o (member, name, share, place)`, t.ID, members, names, shares)
	return wrap(err, "insert the owners of a ticket")
}

// InsertSplit stores a split and numbers it.
func (Store) InsertSplit(ctx context.Context, q pg.Querier, s *domain.StandingSplit) error {
	err := q.QueryRow(ctx, `INSERT INTO standing_split (member, effective_date, note, setter, set_time) VALUES ($1, $2, $3, $4, $5)
		RETURNING id`, s.Member, s.From, s.Note, s.Setter, s.SetTime).Scan(&s.ID)
	if err != nil {
		return wrap(err, "insert standing split")
	}
	members, _, shares := ownerLists(s.Owners)
	_, err = q.Exec(ctx, `INSERT INTO standing_split_owner (split, place, member, share)
		SELECT $1, o.place, o.member, o.share FROM unnest($2::text[], $3::bigint[]) WITH ORDINALITY AS o (member, share, place)`,
		s.ID, members, shares)
	return wrap(err, "insert the owners of a standing split")
}

const splitSelect = `SELECT s.id, s.member, s.effective_date::text, s.note, s.setter, s.set_time, o.members, o.names, o.shares
	FROM standing_split s, LATERAL (SELECT array_agg(o.member ORDER BY o.place) AS members,
		array_agg(m.display_name ORDER BY o.place) AS names, array_agg(o.share ORDER BY o.place) AS shares
		FROM standing_split_owner o JOIN member m ON m.number = o.member WHERE o.split = s.id) o `

func scanSplit(row pgx.Row) (domain.StandingSplit, error) {
	var s domain.StandingSplit
	var owners ownerRow
	err := row.Scan(append([]any{&s.ID, &s.Member, &s.From, &s.Note, &s.Setter, &s.SetTime}, owners.targets()...)...)
	s.Owners = owners.owners()
	return s, err
}

// SplitOn reads what is agreed for the deliveries of a member on a date.
func (Store) SplitOn(ctx context.Context, q pg.Querier, member, date string) (domain.StandingSplit, error) {
	day, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return domain.StandingSplit{}, wrap(err, "read standing split")
	}
	s, err := scanSplit(q.QueryRow(ctx, splitSelect+`WHERE s.member = $1 AND s.effective_date <= $2
		ORDER BY s.effective_date DESC, s.id DESC LIMIT 1`, member, day))
	if errors.Is(err, pgx.ErrNoRows) {
		return domain.StandingSplit{}, nil
	}
	return s, wrap(err, "read standing split")
}

// Splits lists the splits of a member, the one recorded last first.
func (Store) Splits(ctx context.Context, q pg.Querier, member string, before int64, limit int) ([]domain.StandingSplit, error) {
	rows, err := q.Query(ctx, splitSelect+`WHERE s.member = $1 AND ($2 = 0 OR s.id < $2) ORDER BY s.id DESC LIMIT $3`, member, before, limit)
	if err != nil {
		return nil, wrap(err, "list standing splits")
	}
	splits, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (domain.StandingSplit, error) { return scanSplit(row) })
	return splits, wrap(err, "list standing splits")
}
